"""What all pages are put together from: assets, templates, scripts, and a policy that lets in nothing else."""

import re
from base64 import b64encode
from collections.abc import Callable, Sequence
from functools import cache
from hashlib import sha256
from importlib.resources import files

import jinja2

from routesolar.report.colours import NOTHING, Classes
from routesolar.report.leaflet import leaflet_js, map_script
from routesolar.trip.segments import Segments


def live_script(segments: Segments, names: Sequence[str]) -> str:
    """Return the map library, the map and our scripts as one."""
    start = float(segments.latitude_deg[0]), float(segments.longitude_deg[0])
    return "\n".join([leaflet_js(), map_script(*start), own_script(names)])


def own_script(names: Sequence[str]) -> str:
    """Return our scripts as one that leaves no name behind; each may use only what stands before it."""
    ours = "\n".join(_bare(asset(name)) for name in names)
    return f'(() => {{\n"use strict";\n{ours}}})();\n'


def _bare(script: str) -> str:
    """Return a script without indents and lines that only comment: no literal of ours spans lines."""
    return re.sub(r"^[ \t]*(//.*)?\n|^[ \t]+", "", script, flags=re.MULTILINE)


def key_rows(scale: Classes, unit: str = "W") -> list[tuple[str, str]]:
    """Return classes as pairs of colour and label, highest first."""
    rows = [
        (colour, f"{scale.step * number:g} to {scale.step * (number + 1):g} {unit}")
        for number, colour in enumerate(scale.colours)
    ]
    return [*rows[::-1], (NOTHING, "none")]


def policy(script: str, styles: list[str]) -> str:
    """Return a content security policy that lets in these texts and nothing else; no script if it is empty."""
    allowed = " ".join(_hash(style) for style in styles)
    runs = _hash(script) if script else "'none'"
    return (
        f"default-src 'none'; script-src {runs}; style-src {allowed}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(inline: str) -> str:
    return f"'sha256-{b64encode(sha256(inline.encode()).digest()).decode()}'"


def asset(name: str) -> str:
    """Return a file of the package's page assets as text."""
    return (files("routesolar.report") / "assets" / name).read_text(encoding="utf-8")


@cache
def page_templates() -> jinja2.Environment:
    """Return the environment of all written pages."""
    return templates_from(asset)


def templates_from(load: Callable[[str], str]) -> jinja2.Environment:
    """Return an environment of templates that `load` finds: text is escaped, a missing value is an error."""
    environment = jinja2.Environment(
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=jinja2.FunctionLoader(load),
    )
    environment.filters["unbroken"] = unbroken
    return environment


def unbroken(sentence: str) -> str:
    """Return the sentence with what belongs together kept on one line: numbers and units, "at least"."""
    unit = r"(?<=\d) (?=(?:W|Wh|kWh|km|mi|m|ft|h|min|s|°[CF]|km/h|mph|days?)\b|%)"
    return re.sub(rf"{unit}|(?<=\bin) (?=\d)|(?<=\bat) (?=least\b)", "\u00a0", sentence)
