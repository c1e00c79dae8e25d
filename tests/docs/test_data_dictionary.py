"""The data dictionary lists what commands write: no key without a meaning, no meaning without a key."""

import runpy
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.slow
def test_the_data_dictionary_is_that_of_the_commands():
    assert runpy.run_path(str(DOCS / "data_dictionary.py"))["dictionary"]() == (
        DOCS / "data_dictionary.md"
    ).read_text(encoding="utf-8")
