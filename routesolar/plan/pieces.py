"""The page's own text, script and style, put together with those of the written page."""

from functools import cache
from importlib.resources import files

from routesolar.report.leaflet import leaflet_css, leaflet_js
from routesolar.report.page_parts import asset

# The written page's scripts, then ours; each uses only what stands above it.
_SHARED = ("basics", "drive", "labels", "signs", "map", "chart", "linked", "reading")
_OURS = ("asking", "section", "lists", "stretches", "spots", "files", "fields", "questions", "view", "plan")


def plan_asset(name: str) -> str:
    """Return a file of this page's assets as text."""
    return (files("routesolar.plan") / "assets" / name).read_text(encoding="utf-8")


@cache
def plan_script() -> str:
    """Return the map library and all scripts as one, which leaves no name of ours behind."""
    ours = "\n".join(
        [*(asset(f"{name}.js") for name in _SHARED), *(plan_asset(f"{name}.js") for name in _OURS)]
    )
    return f'{leaflet_js()}\n(() => {{\n"use strict";\n{ours}}})();\n'


@cache
def plan_style() -> str:
    """Return all style sheets as one."""
    return "\n".join([leaflet_css(), asset("page.css"), plan_asset("plan.css")])
