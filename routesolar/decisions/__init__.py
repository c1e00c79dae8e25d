"""Questions a traveller asks, answered by pure functions over many simulated drives."""
