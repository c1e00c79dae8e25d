"""A local page to plan in: the server, what the page says turned into trips, and what it is answered."""
