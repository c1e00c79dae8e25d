"""The front door: one trip, typed and whole, and every question that can be asked of it in one call."""
