"""Frozen nouns: what a trip is made of. Arrays are copied, locked and checked once."""
