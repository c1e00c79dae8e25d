"""The examples in docstrings say what the code says."""

import doctest
from importlib import import_module
from pathlib import Path

import routesolar

PACKAGE = Path(routesolar.__file__).parent


def test_examples_in_docstrings_are_true():
    tried = failed = 0
    for path in PACKAGE.rglob("*.py"):
        if ">>> " in path.read_text(encoding="utf-8"):
            name = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
            result = doctest.testmod(import_module(name))
            tried, failed = tried + result.attempted, failed + result.failed
    assert tried >= 10
    assert failed == 0
