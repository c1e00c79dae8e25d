"""The blocks of an .osm.pbf file: where they lie, and which of them hold points, lines or relations.

The format is a row of blocks, each behind the length and the size of its header (OpenStreetMap's PBF format). Files
that say they are sorted hold points first, then lines, then relations; so most of a pass over one kind is saved.
"""

import struct
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from routesolar.errors import InputError

MOST_HEADER_BYTES, MOST_BLOCK_BYTES = 64 * 1024, 32 * 1024 * 1024  # by the format
TOGETHER_BYTES = 4_000_000  # of compressed blocks, read and looked at together
KINDS = ("n", "w", "r")


class Block(NamedTuple):
    """A block with its header: where it begins, how long it is, and whether it is the file's own header."""

    at: int
    size: int
    is_head: bool


class Blocks(NamedTuple):
    """A file's blocks: the head, and for each kind of object those that may hold some."""

    path: Path
    head: bytes
    of_kind: dict[str, tuple[Block, ...]]

    def parts(self, kind: str) -> Iterator[bytes]:
        """Yield files in memory, each of some blocks that may hold this kind of object."""
        with self.path.open("rb") as opened:
            part, length = [self.head], 0
            for block in self.of_kind[kind]:
                opened.seek(block.at)
                part.append(opened.read(block.size))
                length += block.size
                if length >= TOGETHER_BYTES:
                    yield b"".join(part)
                    part, length = [self.head], 0
            if length:
                yield b"".join(part)


def blocks_of(path: Path, first_kind: Callable[[bytes], str | None], is_sorted: Callable[[bytes], bool]) -> Blocks:
    """Return the blocks of a file; `first_kind` tells what the first object of a file in memory is.

    Raises:
        InputError: this is no such file, or it is cut off.
    """
    with path.open("rb") as opened:
        blocks = list(_listed(opened, path))
        if not blocks or not blocks[0].is_head:
            raise InputError(f"{path}: this is not a map in the .osm.pbf format; download the extract again")
        data = tuple(block for block in blocks if not block.is_head)
        opened.seek(blocks[0].at)
        head = opened.read(blocks[0].size)

        def kind_of(number: int) -> str | None:
            opened.seek(data[number].at)
            return first_kind(head + opened.read(data[number].size))

        if not data or not is_sorted(head):
            return Blocks(path, head, dict.fromkeys(KINDS, data))
        lines, relations = (_first_of(kinds, kind_of, len(data)) for kinds in (("w", "r"), ("r",)))
    # A block may hold the last of one kind and the first of the next.
    return Blocks(
        path,
        head,
        {"n": data[:lines], "w": data[max(lines - 1, 0) : relations], "r": data[max(relations - 1, 0) :]},
    )


def _first_of(kinds: tuple[str, ...], kind_of: Callable[[int], str | None], count: int) -> int:
    """Return the number of the first block that begins with one of these kinds, by halving."""
    low, high = 0, count
    while low < high:
        middle = (low + high) // 2
        if kind_of(middle) in kinds:
            high = middle
        else:
            low = middle + 1
    return low


def _listed(opened: Any, path: Path) -> Iterator[Block]:
    while length := opened.read(4):
        at = opened.tell() - len(length)
        size = struct.unpack(">I", length)[0] if len(length) == 4 else MOST_HEADER_BYTES + 1
        header = opened.read(size) if size <= MOST_HEADER_BYTES else b""
        name, data_size = _header(header) if len(header) == size else ("", -1)
        if not 0 <= data_size <= MOST_BLOCK_BYTES:
            raise InputError(f"{path}: the map is damaged at byte {at:,}; download the extract again")
        opened.seek(data_size - 1 if data_size else 0, 1)
        if data_size and not opened.read(1):
            raise InputError(f"{path}: the map ends in the middle of a block; download the extract again")
        yield Block(at, 4 + size + data_size, name == "OSMHeader")


def _header(header: bytes) -> tuple[str, int]:
    """Return the name and the data's size that a block's header gives; a size of -1 where it makes no sense."""
    name, size, place = "", -1, 0
    while place < len(header):
        key, place = _varint(header, place)
        value, place = _varint(header, place)
        if key & 7 == 2:
            if key >> 3 == 1:
                name = header[place : place + value].decode("ascii", "replace")
            place += value
        elif key & 7 != 0:
            return "", -1
        elif key >> 3 == 3:
            size = value
    return name, size


def _varint(data: bytes, place: int) -> tuple[int, int]:
    value = shift = 0
    while place < len(data) and shift < 64:
        byte = data[place]
        value |= (byte & 0x7F) << shift
        place, shift = place + 1, shift + 7
        if byte < 0x80:
            return value, place
    return value, len(data)
