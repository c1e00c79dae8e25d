"""Read a TOML file into a checked model; every mistake in the file is reported, at once."""

import difflib
import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError

from routesolar.errors import InputError
from routesolar.files.reading import printable, read_whole
from routesolar.limits import limit_of

SAID_AT_ONCE = 20  # mistakes; more are counted
# A key of so many names is nested as deeply, which takes the square of its length to read.
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+)"""
    f"{{{limit_of('names in a key')}}}"
)
# What a number is measured in, by the ending of its key; longest endings first.
UNITS = {
    "_pct_per_c": "percent per degree C",
    "_frac": "a share: write 21 % as 0.21",
    "_pct": "percent",
    "_mps": "metres per second",
    "_deg": "degrees",
    "_wh": "watt-hours",
    "minutes": "minutes",
    "_m": "metres",
    "_w": "watts",
    "_a": "amperes",
    "_c": "degrees C",
}


_ENTRIES = {"route": "route files", "panel": "panels", "roof_box": "boxes on the roof"}

# What the library calls a type, as people would.
KINDS = {
    "string_type": "text in quotes",
    "float_type": "a number",
    "int_type": "an integer",
    "bool_type": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
}


class TomlTable(BaseModel):
    """A table of a TOML file: unknown keys, wrong types, infinities and not-a-numbers are errors."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True, strict=True)


Model = TypeVar("Model", bound=BaseModel)


def read_checked(path: Path, model: type[Model]) -> Model:
    """Return the TOML file as an instance of `model`; InputError that lists everything wrong with it."""
    raw = _parsed(path)
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        lines = _lines(error.errors(include_url=False)[: 10 * SAID_AT_ONCE], raw, model)
    listed = "\n".join(f"  {line}" for line in lines[:SAID_AT_ONCE])
    count = "1 thing is" if len(lines) == 1 else f"{len(lines)} things are"
    if len(lines) > SAID_AT_ONCE:
        count = f"more than {SAID_AT_ONCE} things are"
    raise InputError(f"{path}: {count} wrong\n{listed}")


def _parsed(path: Path) -> dict[str, Any]:
    content = read_whole(path, limit_of("trip or rig file"))
    try:
        text = content.decode("utf-8-sig")
        if _LONG_KEY.search(text):
            raise InputError(
                f"{path}: a key has more than {limit_of('names in a key')} names with dots between; this is no "
                "trip or rig file"
            )
        raw = tomllib.loads(text)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise InputError(f"{path}, line {line}: not UTF-8 text; save the file as UTF-8") from None
    except RecursionError:
        raise InputError(f"{path}: brackets are nested too deeply; this is not a trip or rig file") from None
    except InputError:
        raise
    except ValueError as error:  # tomllib names line and column
        hint = "text needs quotes, and each key may appear only once"
        raise InputError(f"{path}: not valid TOML: {printable(str(error))} ({hint})") from None
    _check_counts(path, raw)
    return raw


def _check_counts(path: Path, raw: dict[str, Any]) -> None:
    """Raise InputError for a list of more entries than are taken in."""
    for key, value in raw.items():
        most = limit_of(_ENTRIES.get(key, "entries of a list"))
        if isinstance(value, list) and len(value) > most:
            raise InputError(f"{path}: {printable(key, 60)} has {len(value):,} entries, more than {most}")


def _lines(problems: Sequence[Any], raw: dict[str, Any], model: type[BaseModel]) -> list[str]:
    """Return each mistake once; where a key may be of several types, they make one line."""
    located = [
        (_steps(problem["loc"], raw, missing=problem["type"] == "missing"), problem) for problem in problems
    ]
    lines = []
    for steps, problem in located:
        if problem["type"] == "extra_forbidden":
            lines.append(f"{_place(steps)}: unknown key; {_nearest(steps, model)}")
        elif problem["type"] not in KINDS:
            lines.append(_line(steps, problem, printable(problem["msg"].removeprefix("Value error, "))))
        elif not any(len(other) > len(steps) and other[: len(steps)] == steps for other, _ in located):
            # A mistake further in tells that the type was right and only the content was not.
            kinds = [
                KINDS[other["type"]] for place, other in located if place == steps and other["type"] in KINDS
            ]
            lines.append(_line(steps, problem, f"should be {' or '.join(dict.fromkeys(kinds))}"))
    return list(dict.fromkeys(lines))


def _line(steps: list[str | int], problem: Any, wrong: str) -> str:
    """One mistake as one line: where, what came, what is wrong, what to do."""
    key = str(steps[-1]) if steps else ""
    unit = next((f" ({text})" for ending, text in UNITS.items() if key.endswith(ending)), "")
    if problem["type"] == "missing":
        return f"{_place(steps)}: this key is required and is missing{unit}"
    wrong = wrong.removeprefix("Input ")
    came = problem["input"]
    if isinstance(came, dict) and wrong == "should be a list":
        return f"{_place(steps)}: there may be several; start each with [[{key}]]"
    if isinstance(came, dict | list) or (isinstance(came, str) and _shown(came) in wrong):
        return f"{_place(steps)}: {wrong}{unit}"
    return f"{_place(steps)} is {_shown(came)}: {wrong}{unit}"


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{printable(value, 60)}"' if isinstance(value, str) else printable(str(value), 60)


def _steps(location: tuple[str | int, ...], raw: Any, *, missing: bool) -> list[str | int]:
    """Keep the parts of a location that stand in the file; the library mixes in names of its own types."""
    steps: list[str | int] = []
    here = raw
    for index, part in enumerate(location):
        if part in (here if isinstance(here, dict) else range(len(here)) if isinstance(here, list) else ()):
            here = here[part]
        elif not (missing and index == len(location) - 1):
            continue
        steps.append(part)
    return steps


def _place(steps: list[str | int]) -> str:
    """Return the way to a key as people write it: `[[panel]] 2, rated_w`; list entries count from 1."""
    if not steps:
        return "the file"
    last_key = max(index for index, step in enumerate(steps) if isinstance(step, str))
    parts: list[str] = []
    for index, step in enumerate(steps):
        if isinstance(step, int):
            parts[-1] += f" {step + 1}"
        elif index == last_key:
            parts.append(printable(step, 60))
        else:
            parts.append(f"[[{step}]]" if isinstance(steps[index + 1], int) else f"[{step}]")
    return ", ".join(parts)


def _nearest(steps: list[str | int], model: type[BaseModel]) -> str:
    tables: set[type[BaseModel]] = {model}
    for step in steps[:-1]:
        if isinstance(step, str):
            tables = {inner for table in tables for inner in _inner_tables(table, step)}
    key = str(steps[-1])
    known = sorted({name for table in tables for name in _keys(table)})
    elsewhere = [home for home, names in _all_keys(model) if key in names]
    if elsewhere:
        return f"it belongs in {elsewhere[0]}"
    close = difflib.get_close_matches(key.lower(), known, n=1, cutoff=0.6)
    if close:
        return f"did you mean {close[0]}?"
    return f"known here: {', '.join(known)}"


def _keys(table: type[BaseModel]) -> dict[str, Any]:
    """Return the keys as the file spells them, each with its type."""
    return {field.alias or name: field.annotation for name, field in table.model_fields.items()}


def _inner_tables(table: type[BaseModel], key: str) -> set[type[BaseModel]]:
    return set(_tables_in(_keys(table).get(key)))


def _tables_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _tables_in(argument)


def _all_keys(model: type[BaseModel]) -> list[tuple[str, set[str]]]:
    """Return every table of the file and its keys; the file's own keys come first."""
    homes = [("the top of the file, above every [table]", set(_keys(model)))]
    for key, annotation in _keys(model).items():
        several = any(kind in str(annotation) for kind in ("list[", "tuple["))
        name = f"[[{key}]]" if several else f"[{key}]"
        homes += [(name, set(_keys(table))) for table in _inner_tables(model, key)]
    return homes
