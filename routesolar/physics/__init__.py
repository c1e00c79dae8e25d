"""Formulas: numbers and arrays in, the same out; each with its source. Nothing here opens a file."""
