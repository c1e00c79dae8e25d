"""Cases for the fuzzer: small right files of every kind, and ways to make them wrong.

Everything follows from a seed and a number, so that a case can be made again.
"""

import random
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pvlib
import rasterio
from fuzz.map_cases import MAP_KINDS, right_map, wrong_map
from fuzz.page_cases import right_request, wrong_request
from hostile_names import HOSTILE
from rasterio import Affine
from routes import gpx, point, straight, track
from samples import sample

from routesolar.files.rigfile import commented_rig

WHEEL = Path(pvlib.__file__).parent / "data"
ROAD = "road.gpx"
TRIP = """route = "road.gpx"
panel = "200W"
depart = "2026-11-20 12:00"
speed = "75km/h"
sky = "broken"
canopy_cover_pct = 40

[[stop]]
at = "0.5km"
minutes = 45
canopy_cover_pct = 20
canopy_height_m = 12
road_width_m = 40

[[pace]]
from = "0km"
to = "1km"
speed = "95km/h"
road_width_m = 16

[[surroundings]]
from = "1km"
to = "1.5km"
canopy_cover_pct = 60
canopy_height_m = 18
road_width_m = 10

[trees]
crown_base_frac = 0.30
evergreen_frac = 0.0
"""
STUDY = """routes = ["road.gpx"]
rigs = ["200W", "90W"]
departures = ["08:00", "13:00"]
skies = ["fair", "overcast"]
seasons = ["auto", "leaf-off"]

[dates]
from = 2026-01-21
to = 2026-12-31
every = "61d"
"""
WORDS = (
    b"nan inf -inf 1e400 -1 0 1e-320 -0.0 181 91 9999999999999999999 NaN null true 0x10 1_0 \xd9\xa1\xd9\xa2 "
    b"<a> </a> <!-- ]]> &amp; &#0; &#x1b; <![CDATA[ <?x?> \" ' = [ ] [[ ]] { } , ; \\u0000 \\uD800 # \t \r \n "
    b"\0 \xff \xfe \xef\xbb\xbf 2026-02-30T25:61:61Z 0001-01-01T00:00:00+14:00 9999-12-31T23:59:59-14:00 T Z "
    b"+99:99"
).split(b" ")


class Case(NamedTuple):
    """A file to write, and the words of the command that reads it."""

    name: str
    content: bytes
    words: tuple[str, ...]


def road_gpx() -> str:
    """Return a right road of 2 km with times, a waypoint and a second piece."""
    latitude, longitude = straight([0.0, 400.0, 800.0, 1200.0, 1600.0, 2000.0])
    points = [
        point(a, o, f"<ele>{100 + n}</ele><time>2026-11-20T01:{n:02d}:00Z</time>")
        for n, (a, o) in enumerate(zip(latitude, longitude, strict=True))
    ]
    return gpx(point(latitude[1], longitude[1], "<name>Camp</name>", kind="wpt") + track(*points))


@cache
def right_file(kind: str) -> bytes:
    """Return the right file that wrong ones of a kind are made from."""
    if kind == "gpx":
        return road_gpx().encode()
    if kind == "trip":
        return TRIP.encode()
    if kind == "study":
        return STUDY.encode()
    if kind == "rig":
        return commented_rig().encode()
    if kind in MAP_KINDS:
        return right_map(kind)
    if kind == "page":
        return right_request()
    if kind == "table":
        rows = [f"2026-11-20T{hour:02d}:00+11:00,-42,147,55,0.4,,,,14.5,3.2,310" for hour in range(6, 22)]
        head = "time,latitude_deg,longitude_deg,elevation_m,cloud_frac,ghi_wm2,dni_wm2,dhi_wm2,air_c,wind_mps,"
        return "\n".join([head + "wind_from_deg", *rows, ""]).encode()
    if kind == "epw":
        return sample("pvlib", "tests/data/NLD_Amsterdam062400_IWEC.epw").read_bytes()
    if kind == "tmy3":
        return (WHEEL / "723170TYA.CSV").read_bytes()
    if kind == "grid":
        head = "ncols 60\nnrows 60\nxllcorner 146.8\nyllcorner -42.2\ncellsize 0.006\nNODATA_value -9999\n"
        return (
            head + "\n".join(" ".join(str(20 + (r + c) % 60) for c in range(60)) for r in range(60))
        ).encode()
    profile = {"driver": "GTiff", "width": 60, "height": 60, "count": 1, "dtype": "uint8", "nodata": 255}
    place = Affine(0.006, 0, 146.8, 0, -0.006, -41.84)
    with rasterio.MemoryFile() as memory:
        with memory.open(**profile, crs="EPSG:4326", transform=place) as made:
            made.write(np.arange(3600, dtype="uint8").reshape(60, 60) % 100, 1)
        return bytes(memory.read())


KINDS = ("gpx", "trip", "rig", "study", "table", "epw", "tmy3", "tiff", "grid", *MAP_KINDS, "page")
_DRIVE = ("--panel", "200W", "--depart", "2026-11-20 12:00", "--speed", "60km/h")
_WORDS = {
    "gpx": ("route", "{file}", *_DRIVE),
    "trip": ("route", "{file}"),
    "rig": ("rig", "{file}"),
    "study": ("study", "{file}"),
    "table": ("harvest", ROAD, *_DRIVE, "--weather", "{file}"),
    "tiff": ("harvest", ROAD, *_DRIVE, "--sky", "clear", "--canopy", "{file}"),
    "grid": ("harvest", ROAD, *_DRIVE, "--sky", "clear", "--canopy", "{file}"),
    **dict.fromkeys(MAP_KINDS, ("route", ROAD, *_DRIVE[:-1], "map", "--map", "{file}")),
    "page": ("page", "{file}"),
}
_NAMES = {
    "gpx": "f.gpx", "trip": "f.toml", "rig": "f.toml", "study": "f.toml", "tiff": "f.tif",
    "grid": "f.asc", "epw": "f.epw",
    "pbf": "f.osm.pbf", "osm": "f.osm", "geojson": "f.geojson", "gpkg": "f.gpkg", "page": "f.json",
}  # fmt: skip
# What reads gives way to the whole harvest once in so many cases.
HARVEST_EVERY = {"gpx": 25, "trip": 10, "rig": 10, **dict.fromkeys(MAP_KINDS, 20)}


def case(kind: str, seed: int, number: int) -> Case:
    """Return the case of this kind, seed and number."""
    chance = random.Random(f"{kind} {seed} {number}")
    if kind in MAP_KINDS:
        content = wrong_map(kind, chance, _wrong)
    elif kind == "page":
        content = wrong_request(chance, _wrong)
    else:
        content = _wrong(right_file(kind), chance)
    return Case(_NAMES.get(kind, "f.csv"), content, _command(kind, number))


def right_case(kind: str) -> Case:
    """Return the right file, harvested: what compiles the physics before the clock runs."""
    return Case(_NAMES.get(kind, "f.csv"), right_file(kind), _command(kind, 0))


def _command(kind: str, number: int) -> tuple[str, ...]:
    words = _WORDS.get(kind, ("weather", "{file}"))
    if kind in HARVEST_EVERY and number % HARVEST_EVERY[kind] == 0:
        drive = (*_DRIVE[:-1], "map", "--map", "{file}", "--sky", "clear", "--json")
        return {
            **dict.fromkeys(MAP_KINDS, ("harvest", ROAD, *drive)),
            "gpx": ("harvest", "{file}", *_DRIVE, "--sky", "clear", "--json"),
            "trip": ("harvest", "{file}", "--json"),
            "rig": ("harvest", ROAD, "--rig", "{file}", *_DRIVE[2:], "--sky", "clear", "--json"),
        }[kind]
    return (*words, "--json") if words[0] == "harvest" else words


def _wrong(content: bytes, chance: random.Random) -> bytes:
    """Return content with a few changes: bytes, numbers, words, lines and blocks."""
    made = bytearray(content)
    for _ in range(chance.choice([1, 1, 1, 2, 3, 8])):
        chance.choice(_CHANGES)(made, chance)
    return bytes(made)


def _place(made: bytearray, chance: random.Random) -> int:
    # Half of all changes hit the head of the file, where formats say what they are.
    return chance.randrange(min(len(made), chance.choice([1500, len(made)])) or 1)


def _flip(made: bytearray, chance: random.Random) -> None:
    if made:
        made[_place(made, chance)] = chance.randrange(256)


def _word(made: bytearray, chance: random.Random) -> None:
    at = _place(made, chance)
    made[at : at + chance.choice([0, 1, 4, 12])] = chance.choice(WORDS)


def _name(made: bytearray, chance: random.Random) -> None:
    at = _place(made, chance)
    made[at:at] = HOSTILE[chance.choice(sorted(HOSTILE))].encode("utf-8", "replace")[:300]


def _number(made: bytearray, chance: random.Random) -> None:
    digits = [at for at, byte in enumerate(made[:20_000]) if 48 <= byte <= 57]
    if digits:
        at = chance.choice(digits)
        made[at : at + 1] = chance.choice([b"9", b"-", b".", b"e", b"e9", b"00", b"", b"1e308", *WORDS[:12]])


def _cut(made: bytearray, chance: random.Random) -> None:
    del made[_place(made, chance) :]


def _drop(made: bytearray, chance: random.Random) -> None:
    at = _place(made, chance)
    del made[at : at + chance.choice([1, 10, 100, 1000])]


def _again(made: bytearray, chance: random.Random) -> None:
    at, length = _place(made, chance), chance.choice([1, 10, 100, 1000])
    made[at:at] = made[at : at + length] * chance.choice([1, 2, 30])


def _swap_lines(made: bytearray, chance: random.Random) -> None:
    lines = bytes(made).split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    made[:] = b"\n".join(lines)


_CHANGES = (_flip, _flip, _word, _word, _number, _number, _number, _name, _cut, _drop, _again, _swap_lines)
