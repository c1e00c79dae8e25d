"""A map file part by part: points, lines or relations with their tags, from .osm.pbf or from .osm."""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, Protocol

import numpy as np

from routesolar.arrays import FloatArray, IntArray
from routesolar.files.map_columns import Columns, Strings, columns_of, degrees, fields_of, strings_of
from routesolar.trip.map_tags import Kinds, known_tags

MOST_HEADER_BYTES, MOST_BLOCK_BYTES = 64 * 1024, 32 * 1024 * 1024  # by the format
KINDS = ("n", "w", "r")
_GROUPS = {1: "n", 2: "n", 3: "w", 4: "r"}
_SORTED = b"Sort.Type_then_ID"


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Objects of one kind: numbers; corners or members by row; positions of points, in degrees."""

    columns: Columns
    texts: list[bytes]
    latitude_deg: FloatArray
    longitude_deg: FloatArray

    def of_kinds(self, kinds: Kinds) -> IntArray:
        """Return the rows that have one of these pairs of key and value; a kind without values takes any."""
        index = {text: number for number, text in enumerate(self.texts)}
        wanted = np.zeros(len(self.columns.key), dtype=bool)
        for key, values in kinds:
            number = index.get(key.encode())
            if number is None:
                continue
            here = self.columns.key == number
            if values:
                known = [index[value.encode()] for value in values if value.encode() in index]
                here &= np.isin(self.columns.value, known)
            wanted |= here
        rows = np.searchsorted(self.columns.first_tag, np.flatnonzero(wanted), side="right") - 1
        return np.unique(rows)

    def tags(self, row: int) -> dict[str, str]:
        """Return the tags of one object that are of use."""
        part = slice(int(self.columns.first_tag[row]), int(self.columns.first_tag[row + 1]))
        pairs = zip(self.columns.key[part].tolist(), self.columns.value[part].tolist(), strict=True)
        return known_tags({self._text(key): self._text(value) for key, value in pairs})

    def _text(self, number: int) -> str:
        if not 0 <= number < len(self.texts):
            raise ValueError("a tag makes no sense")
        return self.texts[number].decode("utf-8", "replace")

    def members(self, row: int) -> IntArray:
        """Return the corners of a line, or the members of a relation."""
        first = self.columns.first_member
        return self.columns.member[int(first[row]) : int(first[row + 1])]

    def types(self, row: int) -> IntArray:
        """Return what kind of object each member of a relation is: 0 a point, 1 a line, 2 a relation."""
        first = self.columns.first_member
        return self.columns.types[int(first[row]) : int(first[row + 1])]


class MapParts(Protocol):
    """A map that can be read part by part, each kind of object for itself."""

    def parts(self, kind: str) -> Iterator[Part]:
        """Yield the parts with points ("n"), lines ("w") or relations ("r")."""
        ...


class _Block(NamedTuple):
    at: int
    size: int


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """The blocks of an .osm.pbf file, and for each kind of object those that may hold some."""

    path: Path
    of_kind: dict[str, tuple[_Block, ...]]

    def parts(self, kind: str) -> Iterator[Part]:
        """Yield the parts with points, lines or relations; ValueError where the file makes no sense."""
        with self.path.open("rb") as opened:
            for block in self.of_kind[kind]:
                data = unpacked(opened, block)
                strings = strings_of(data)
                for group in strings.groups:
                    columns = columns_of(data, group, kind)
                    if columns is not None:
                        yield _part(columns, strings)


def _part(columns: Columns, strings: Strings) -> Part:
    lat = degrees(columns.lat, strings, strings.lat_offset)
    lon = degrees(columns.lon, strings, strings.lon_offset)
    return Part(columns, strings.texts, lat, lon)


def pbf_parts(path: Path) -> Blocks:
    """Return the parts of an .osm.pbf file.

    Files that say that they are sorted hold points first, then lines, then relations, so that most of a
    pass over one kind is saved.

    Raises:
        ValueError: this is no such file, or it is damaged.
    """
    with path.open("rb") as opened:
        blocks = list(_listed(opened))
        if not blocks or blocks[0][0] != b"OSMHeader":
            raise ValueError("it is not in the .osm.pbf format")
        head = unpacked(opened, blocks[0][1])
        data = tuple(block for name, block in blocks if name == b"OSMData")
        if not data or _SORTED not in head.tobytes():
            return Blocks(path, dict.fromkeys(KINDS, data))

        def first_of(kinds: str) -> int:
            low, high = 0, len(data)
            while low < high:
                middle = (low + high) // 2
                if _first_kind(unpacked(opened, data[middle])) in kinds:
                    high = middle
                else:
                    low = middle + 1
            return low

        lines, relations = first_of("wr"), first_of("r")
    # A block may hold the last of one kind and the first of the next.
    return Blocks(
        path, {"n": data[:lines], "w": data[max(lines - 1, 0) : relations], "r": data[max(relations - 1, 0) :]}
    )


def _first_kind(data: Any) -> str:
    groups = strings_of(data).groups
    fields = fields_of(data, *groups[0]) if groups else []
    return _GROUPS.get(fields[0][0], "n") if fields else "n"


def _listed(opened: Any) -> Iterator[tuple[bytes, _Block]]:
    while length := opened.read(4):
        size = struct.unpack(">I", length)[0] if len(length) == 4 else MOST_HEADER_BYTES + 1
        header = np.frombuffer(opened.read(size) if size <= MOST_HEADER_BYTES else b"", dtype=np.uint8)
        if len(header) != size:
            raise ValueError(f"it is damaged at byte {opened.tell():,}")
        name, data_size = b"", -1
        for number, low, high in fields_of(header, 0, size):
            if number == 1 and high:
                name = header[low:high].tobytes()
            elif number == 3 and not high:
                data_size = low
        if not 0 < data_size <= MOST_BLOCK_BYTES:
            raise ValueError(f"it is damaged at byte {opened.tell():,}")
        block = _Block(opened.tell(), data_size)
        opened.seek(data_size - 1, 1)
        if not opened.read(1):
            raise ValueError("it ends in the middle of a block")
        yield name, block


def unpacked(opened: Any, block: _Block) -> Any:
    """Return a block's bytes, unpacked."""
    opened.seek(block.at)
    packed = np.frombuffer(opened.read(block.size), dtype=np.uint8)
    for number, low, high in fields_of(packed, 0, len(packed)):
        if number == 1 and high:
            return packed[low:high]
        if number == 3 and high:
            unpacking = zlib.decompressobj()
            content = unpacking.decompress(packed[low:high].tobytes(), MOST_BLOCK_BYTES)
            if not unpacking.eof:
                raise ValueError("a block is damaged or too large")
            return np.frombuffer(content, dtype=np.uint8)
        if number in (4, 5, 6, 7):
            raise ValueError("its blocks are packed by other means than zlib, which is not read")
    raise ValueError("a block is empty")
