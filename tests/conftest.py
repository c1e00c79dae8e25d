"""Shared by all tests: property tests run the same on every machine."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("steady")
