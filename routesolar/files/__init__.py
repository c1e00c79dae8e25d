"""The only code that opens a path."""
