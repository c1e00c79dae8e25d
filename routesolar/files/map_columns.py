"""The objects of a block of open map data as columns: numbers, positions, corners and tags.

Protocol buffers as in OpenStreetMap's PBF format, read in compiled loops: a country has hundreds of millions
of numbers. Every step is checked against the end of the data, and what is written against the room for it.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray, IntArray
from routesolar.physics.compiled import compiled

Bytes = NDArray[np.uint8]
NODES, DENSE, WAYS, RELATIONS = 1, 2, 3, 4  # fields of a group
_ID, _KEYS, _VALUES, _REFS, _MEMBERS, _TYPES = 1, 2, 3, 8, 9, 10
_DENSE_LAT, _DENSE_LON, _DENSE_TAGS = 8, 9, 10


class Strings(NamedTuple):
    """A block's texts, where its groups of objects lie, and how positions are scaled, in 1e-9 degrees."""

    texts: list[bytes]
    groups: list[tuple[int, int]]
    step: int
    lat_offset: int
    lon_offset: int


class Columns(NamedTuple):
    """n objects of one kind: their numbers, rows of tags (numbers of texts for keys and values), of members.

    Row k of tags is first_tag[k] to first_tag[k + 1], of members first_member[k] to first_member[k + 1]. Points
    have a latitude and a longitude instead of members, in steps; `types` of members are 1 for lines.
    """

    number: IntArray
    first_tag: IntArray
    key: IntArray
    value: IntArray
    first_member: IntArray
    member: IntArray
    types: IntArray
    lat: IntArray
    lon: IntArray


@compiled
def _varint(data: Bytes, place: int, end: int) -> tuple[int, int]:
    """Return the number at a place and the place after it; -1 where the data end within it."""
    value = shift = 0
    while place < end and shift < 70:
        byte = int(data[place])
        place += 1
        if shift < 63:
            value |= (byte & 127) << shift
        if byte < 128:
            return value, place
        shift += 7
    return 0, -1


@compiled
def _zigzag(value: int) -> int:
    return (value >> 1) ^ -(value & 1)


@compiled
def _field(data: Bytes, place: int, end: int) -> tuple[int, int, int, int]:
    """Return the field at a place: its number, where its content begins and ends, and the place after it.

    For plain numbers it is the value and 0 instead. The place after is -1 where the data make no sense.
    """
    key, place = _varint(data, place, end)
    if place < 0:
        return 0, 0, 0, -1
    number, kind = key >> 3, key & 7
    if kind == 0:
        value, place = _varint(data, place, end)
        return number, value, 0, place
    if kind == 1 or kind == 5:
        place += 8 if kind == 1 else 4
        return 0, 0, 0, place if place <= end else -1
    if kind != 2:
        return 0, 0, 0, -1
    length, place = _varint(data, place, end)
    if place < 0 or length < 0 or length > end - place:
        return 0, 0, 0, -1
    return number, place, place + length, place + length


@compiled
def _numbers(data: Bytes, place: int, end: int, out: IntArray, at: int, deltas: bool) -> int:
    """Write packed numbers from a place of `out` on, added up where they are differences.

    Return the place after, -1 where they do not fit or make no sense.
    """
    total = 0
    if place < 0:
        return -1
    while place < end:
        value, place = _varint(data, place, end)
        if place < 0 or at >= len(out):
            return -1
        if deltas:
            total += _zigzag(value)
            value = total
        out[at] = value
        at += 1
    return at


@compiled
def _room(data: Bytes, place: int, end: int) -> int:
    """Return how many numbers there can be at most."""
    count = 0
    for k in range(place, end):
        count += data[k] < 128
    return count


@compiled
def _objects(data: Bytes, place: int, end: int, wanted: int) -> tuple[bool, tuple[IntArray, ...]]:
    """Return lines or relations of a group as Columns has them; False where they make no sense."""
    room, objects, scan = _room(data, place, end), 0, place
    while 0 <= scan < end:
        number, _, _, scan = _field(data, scan, end)
        objects += number == wanted
    numbers = np.zeros(objects, np.int64)
    first_tag, first_member = np.zeros(objects + 1, np.int64), np.zeros(objects + 1, np.int64)
    keys, values = np.zeros(room, np.int64), np.zeros(room, np.int64)
    members, types = np.zeros(room, np.int64), np.zeros(room if wanted == RELATIONS else 0, np.int64)
    member_field = _REFS if wanted == WAYS else _MEMBERS
    good, row, tag, member = scan >= 0, 0, 0, 0
    while place < end and good:
        number, start, stop, place = _field(data, place, end)
        if number != wanted:
            continue
        good &= stop > 0  # else it is a plain number
        key_end, value_end, member_end, type_end = tag, tag, member, member
        while good and start < stop:
            inner, low, high, start = _field(data, start, stop)
            good = start >= 0
            if inner == _ID and high == 0:
                numbers[row] = low
            elif inner == _KEYS:
                key_end = _numbers(data, low, high, keys, key_end, False)
            elif inner == _VALUES:
                value_end = _numbers(data, low, high, values, value_end, False)
            elif inner == member_field:
                member_end = _numbers(data, low, high, members, member_end, True)
            elif inner == _TYPES and wanted == RELATIONS:
                type_end = _numbers(data, low, high, types, type_end, False)
            good &= key_end >= 0 and value_end >= 0 and member_end >= 0 and type_end >= 0
        good &= key_end == value_end and (wanted == WAYS or type_end == member_end)
        tag, member, row = key_end, member_end, row + 1
        first_tag[row], first_member[row] = tag, member
    nothing = members[:0]
    rows = first_tag, keys[: max(tag, 0)], values[: max(tag, 0)], first_member, members[: max(member, 0)]
    return good, (
        numbers,
        rows[0],
        rows[1],
        rows[2],
        rows[3],
        rows[4],
        types[: max(member, 0)],
        nothing,
        nothing,
    )


@compiled
def _dense(data: Bytes, place: int, end: int) -> tuple[bool, IntArray, IntArray, IntArray, IntArray]:
    """Return numbers, latitudes, longitudes and tags of densely packed points; False for nonsense."""
    room = _room(data, place, end)
    numbers, lat, lon = np.zeros(room, np.int64), np.zeros(room, np.int64), np.zeros(room, np.int64)
    tags = np.zeros(room, np.int64)
    counts = np.zeros(4, np.int64)
    while place < end:
        field, low, high, place = _field(data, place, end)
        if place < 0:
            return False, numbers, lat, lon, tags
        if field == _ID:
            counts[0] = _numbers(data, low, high, numbers, counts[0], True)
        elif field == _DENSE_LAT:
            counts[1] = _numbers(data, low, high, lat, counts[1], True)
        elif field == _DENSE_LON:
            counts[2] = _numbers(data, low, high, lon, counts[2], True)
        elif field == _DENSE_TAGS:
            counts[3] = _numbers(data, low, high, tags, counts[3], False)
        if counts.min() < 0:
            return False, numbers, lat, lon, tags
    good = counts[0] == counts[1] and counts[0] == counts[2]
    return good, numbers[: counts[0]], lat[: counts[1]], lon[: counts[2]], tags[: counts[3]]


@compiled
def _dense_rows(tags: IntArray, count: int) -> tuple[bool, IntArray, IntArray, IntArray]:
    """Return rows of tags of points: keys and values in turn, each point's end marked by a 0."""
    first = np.zeros(count + 1, np.int64)
    keys, values = np.zeros(len(tags) // 2 + 1, np.int64), np.zeros(len(tags) // 2 + 1, np.int64)
    at, found = 0, 0
    for row in range(count):
        while at < len(tags) and tags[at] != 0:
            if at + 1 >= len(tags) or found >= len(keys):
                return False, first, keys, values
            keys[found], values[found] = tags[at], tags[at + 1]
            at, found = at + 2, found + 1
        at += 1
        first[row + 1] = found
    return True, first, keys[:found], values[:found]


@compiled
def touching(first: IntArray, member: IntArray, rows: IntArray, wanted: IntArray) -> NDArray[np.bool_]:
    """Return which of some rows have a member among sorted numbers."""
    found = np.zeros(len(rows), np.bool_)
    for k in range(len(rows)):
        for at in range(first[rows[k]], first[rows[k] + 1]):
            low, high = 0, len(wanted)
            while low < high:
                middle = (low + high) // 2
                if wanted[middle] < member[at]:
                    low = middle + 1
                else:
                    high = middle
            if low < len(wanted) and wanted[low] == member[at]:
                found[k] = True
                break
    return found


@compiled
def _fields(data: Bytes, place: int, end: int) -> tuple[bool, IntArray]:
    """Return all fields of a message, (k, 3): number, and where the content begins and ends, or value and 0."""
    count, scan = 0, place
    while 0 <= scan < end:
        scan = _field(data, scan, end)[3]
        count += 1
    found = np.zeros((count, 3), np.int64)
    if scan < 0:
        return False, found
    for k in range(count):
        found[k, 0], found[k, 1], found[k, 2], place = _field(data, place, end)
    return True, found


def fields_of(data: Bytes, place: int, end: int) -> list[list[int]]:
    """Return the fields of a message: number, and value and 0 or where the content begins and ends.

    Raises:
        ValueError: it makes no sense.
    """
    good, found = _fields(data, place, end)
    if not good:
        raise ValueError("a block makes no sense")
    listed: list[list[int]] = found.tolist()
    return listed


def strings_of(data: Bytes) -> Strings:
    """Return the texts of a block and where its groups lie; ValueError where it makes no sense."""
    texts: list[bytes] = []
    groups: list[tuple[int, int]] = []
    scale, content = {17: 100, 19: 0, 20: 0}, data.tobytes()
    for number, low, high in fields_of(data, 0, len(data)):
        if number == 1 and high:
            texts += [content[a:b] for field, a, b in fields_of(data, low, high) if field == 1]
        elif number == 2 and high:
            groups.append((low, high))
        elif number in scale:
            scale[number] = low
    return Strings(texts, groups, scale[17], scale[19], scale[20])


def columns_of(data: Bytes, group: tuple[int, int], kind: str) -> Columns | None:
    """Return a group's points ("n"), lines ("w") or relations ("r"); None where it holds none.

    Raises:
        ValueError: it makes no sense.
    """
    if kind == "n":
        return _points(data, group)
    wanted = WAYS if kind == "w" else RELATIONS
    good, columns = _objects(data, *group, wanted)
    if not good:
        raise ValueError("a block of lines makes no sense")
    return Columns(*columns) if len(columns[0]) else None


def _points(data: Bytes, group: tuple[int, int]) -> Columns | None:
    nothing = np.zeros(0, np.int64)
    fields = fields_of(data, *group) if data[group[0]] >> 3 in (NODES, DENSE) else []  # no other kind beside
    parts = [(low, high) for number, low, high in fields if number == DENSE and high]
    plain = [(low, high) for number, low, high in fields if number == NODES and high]
    if plain:
        return _plain_points(data, plain)
    if not parts:
        return None
    good, number, lat, lon, tags = _dense(data, *parts[0])
    rows = _dense_rows(tags, len(number))
    if not good or not rows[0]:
        raise ValueError("a block of points makes no sense")
    return Columns(number, rows[1], rows[2], rows[3], nothing, nothing, nothing, lat, lon)


def _plain_points(data: Bytes, points: list[tuple[int, int]]) -> Columns:
    """Return points that are stored one by one, as few files do."""
    rows: list[tuple[int, int, int]] = []
    first: list[int] = [0]
    keys: list[int] = []
    values: list[int] = []
    for low, high in points:
        said = {1: 0, 8: 0, 9: 0}
        for number, a, b in fields_of(data, low, high):
            if number in said and not b:
                said[number] = int(_zigzag(a))
            elif number in (2, 3) and b:
                out = np.zeros(b - a, np.int64)
                count = _numbers(data, a, b, out, 0, False)
                (keys if number == 2 else values).extend(out[: max(count, 0)].tolist())
        if len(keys) != len(values):
            raise ValueError("a point's tags make no sense")
        rows.append((said[1], said[8], said[9]))
        first.append(len(keys))
    number, lat, lon = np.array(rows, dtype=np.int64).T
    nothing = np.zeros(0, np.int64)
    tag, key, value = (np.array(column, dtype=np.int64) for column in (first, keys, values))
    return Columns(number, tag, key, value, nothing, nothing, nothing, lat, lon)


def degrees(steps: IntArray, block: Strings, offset: int) -> FloatArray:
    """Return positions in degrees."""
    return 1e-9 * (offset + block.step * steps.astype(np.float64))
