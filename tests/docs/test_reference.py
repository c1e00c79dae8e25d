"""Every public name says what it is, and the reference built from that shows them all."""

import re
import runpy
from dataclasses import is_dataclass
from pathlib import Path
from types import FunctionType

import pytest

import routesolar

ROOT = Path(__file__).parents[2]
SCRIPT = ROOT / "docs" / "build_reference.py"


def public_methods(kind: type) -> dict[str, object]:
    members = {name: member for name, member in vars(kind).items() if not name.startswith("_")}
    told = (FunctionType, classmethod, staticmethod, property)
    return {name: member for name, member in members.items() if isinstance(member, told)}


def test_every_public_name_and_its_methods_say_what_they_are():
    for name in routesolar.__all__:
        thing = getattr(routesolar, name)
        # A dataclass without a docstring gets its signature as one.
        assert thing.__doc__ and not (is_dataclass(thing) and thing.__doc__.startswith(f"{name}(")), name
        for method, member in public_methods(thing).items() if isinstance(thing, type) else ():
            assert getattr(member, "__doc__", None), f"{name}.{method}"


@pytest.mark.slow
def test_the_reference_shows_every_public_name_and_nothing_private(tmp_path):
    pytest.importorskip("pdoc", reason="the reference is built where the extra docs is installed")
    runpy.run_path(str(SCRIPT))["build"](tmp_path)
    page = (tmp_path / "routesolar.html").read_text(encoding="utf-8")
    shown = set(re.findall(r'<section id="([^".]+)"', page))
    assert shown == set(routesolar.__all__)


def test_what_is_built_is_not_kept():
    assert "docs/reference/" in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()


def test_the_source_package_holds_the_documents():
    import tomllib

    build = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]
    assert {"docs", "README.md", "CHANGELOG.md"} <= set(build["targets"]["sdist"]["include"])
