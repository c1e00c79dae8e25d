"""Open map data as text (.osm): small extracts, and maps written by hand."""

from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.parsers.expat import ParserCreate

import numpy as np

from routesolar.files.map_columns import Columns
from routesolar.files.map_parts import Part
from routesolar.trip.arrays import IntArray

_KINDS = {"node": "n", "way": "w", "relation": "r"}
_TYPES = {"node": 0, "way": 1, "relation": 2}
_PLACES = {"nd": "way", "member": "relation"}  # what stands within which object alone


class _Table:
    """The objects of one kind, column by column."""

    def __init__(self, texts: dict[str, int]) -> None:
        self.texts = texts
        self.number, self.key, self.value, self.member, self.types = (array("q") for _ in range(5))
        self.first_tag, self.first_member = array("q", [0]), array("q", [0])
        self.lat, self.lon = array("d"), array("d")

    def text(self, said: str) -> int:
        return self.texts.setdefault(said, len(self.texts))

    def close(self) -> None:
        self.first_tag.append(len(self.key))
        self.first_member.append(len(self.member))

    def part(self) -> Part:
        def column(values: "array[int]") -> IntArray:
            return np.array(values, dtype=np.int64)

        nothing = np.zeros(0, np.int64)
        columns = Columns(
            column(self.number),
            column(self.first_tag),
            column(self.key),
            column(self.value),
            column(self.first_member),
            column(self.member),
            column(self.types),
            nothing,
            nothing,
        )
        texts = [text.encode() for text in self.texts]
        return Part(columns, texts, np.array(self.lat, dtype=np.float64), np.array(self.lon, dtype=np.float64))


@dataclass(frozen=True, slots=True, eq=False)
class XmlParts:
    """The objects of an .osm file, a part for each kind."""

    of_kind: dict[str, Part]

    def parts(self, kind: str) -> Iterator[Part]:
        """Yield the part with points, lines or relations."""
        yield self.of_kind[kind]


def xml_parts(path: Path) -> XmlParts:
    """Return the parts of an .osm file.

    Raises:
        ValueError: it holds other things, numbers that are none, an unknown encoding. ExpatError: it is no XML.
    """
    texts: dict[str, int] = {}
    tables = {kind: _Table(texts) for kind in ("n", "w", "r")}
    open_table: list[_Table] = []  # none within an object that is deleted
    seen: list[str] = []
    within: list[str] = []

    def start(name: str, said: dict[str, str]) -> None:
        if not seen and name != "osm":
            raise ValueError("it is not in the .osm format")
        seen[:] = [name]
        if within and name in _KINDS:
            raise ValueError(f"a {name} stands within a {within[0]}")
        if within and _PLACES.get(name, within[0]) != within[0]:
            raise ValueError(f"a {within[0]} holds a <{name}>")
        if name in _KINDS:
            within[:] = [name]
            if said.get("action") == "delete" or said.get("visible") == "false":
                open_table.clear()
                return
            table = tables[_KINDS[name]]
            table.number.append(_number(said, "id"))
            if name == "node":
                table.lat.append(_degrees(said.get("lat")))
                table.lon.append(_degrees(said.get("lon")))
            open_table[:] = [table]
        elif open_table:
            table = open_table[0]
            if name == "tag":
                table.key.append(table.text(said.get("k", "")))
                table.value.append(table.text(said.get("v", "")))
            elif name == "nd":
                table.member.append(_number(said, "ref"))
            elif name == "member":
                table.member.append(_number(said, "ref"))
                table.types.append(_TYPES.get(said.get("type", ""), 2))

    def end(name: str) -> None:
        if name in _KINDS:
            within.clear()
            for table in open_table:
                table.close()
            open_table.clear()

    def refuse(*_: object) -> None:
        raise ValueError("it declares a document type, which no map does")

    parser = ParserCreate()
    parser.StartElementHandler, parser.EndElementHandler = start, end
    parser.StartDoctypeDeclHandler = refuse
    try:
        with path.open("rb") as opened:
            parser.ParseFile(opened)
    except LookupError:
        raise ValueError("it names an encoding that there is not") from None
    return XmlParts({kind: table.part() for kind, table in tables.items()})


def _number(said: dict[str, str], name: str) -> int:
    text = said.get(name, "")
    if not text.lstrip("-").isdecimal() or len(text) > 18:
        raise ValueError(f"an object's {name} is no number")
    return int(text)


def _degrees(text: str | None) -> float:
    """Return a position's latitude or longitude; NaN, which lies nowhere, for what is none."""
    try:
        return float(text or "nan")
    except ValueError:
        return float("nan")
