"""Many drives at once: routes x rigs x dates x departures x skies x seasons, into a folder of tables."""
