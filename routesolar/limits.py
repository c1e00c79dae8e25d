"""How much is taken in: one table. What lies beyond is refused in words before work starts.

Each limit is a few times what a real trip needs, and low enough that a command within all of them stays under
1.5 GB. SECURITY.md prints this table, and a test compares the two.
"""

from types import MappingProxyType
from typing import NamedTuple


class Limit(NamedTuple):
    """The most there may be of something, its unit, and why so much and no more."""

    most: int
    unit: str
    why: str


LIMITS = MappingProxyType(
    {
        "route file": Limit(50_000_000, "bytes", "three days recorded every second, heart rates and all"),
        "route points": Limit(250_000, "points", "in a trip; three days, one every second"),
        "route files": Limit(200, "files", "a file a day, for half a year"),
        "trip or rig file": Limit(500_000, "bytes", "typed by hand; a long one has 10 kB"),
        "dates of a study": Limit(20_000, "dates", "half a century of days"),
        "drives of a study": Limit(
            100_000_000, "drives", "a thousand routes for a year, five skies, every half hour"
        ),
        "drives of a part": Limit(20_000, "drives", "of one route and date: what a worker holds at once"),
        "points of a study": Limit(10_000_000, "points", "on all its routes; each is held until the end"),
        "names in a key": Limit(20, "names", "a.b.c = 1 is nested as deep as it has dots; ours two deep"),
        "entries of a list": Limit(1_000, "entries", "[[surroundings]] for every kilometre"),
        "panels": Limit(24, "panels", "each is computed on every segment under every sky"),
        "boxes on the roof": Limit(24, "boxes", "each is looked at from every panel"),
        "route length": Limit(100_000, "km", "more than twice around the Earth"),
        "segments": Limit(150_000, "segments", "of 50 m: 7,500 km, a fortnight of driving"),
        "weather file": Limit(60_000_000, "bytes", "a year of minutes has 55 MB"),
        "weather rows": Limit(600_000, "rows", "of our own table; a year of minutes"),
        "weather line": Limit(20_000, "letters", "its columns times the rows are what takes memory"),
        "weather places": Limit(2_000, "places", "each is weighed on every segment"),
        "weather table": Limit(2_000_000, "cells", "places times moments; a year of hours at 200 places"),
        "raster tiles": Limit(2_048, "tiles", "of 256 x 256 cells within reach of the route, 0.5 GB"),
        "map file": Limit(4_000_000_000, "bytes", "a whole country's extract; read in parts"),
        "map text": Limit(300_000_000, "bytes", "of .osm or GeoPackage: a district"),
        "map as GeoJSON": Limit(100_000_000, "bytes", "read whole, which takes ten times its size"),
        "map outlines": Limit(25_000_000, "corners", "of woods, waters and large roads on the whole map"),
        "map points": Limit(4_000_000, "points", "of roads, houses and trees within 400 m of the route"),
        "map objects": Limit(400_000, "objects", "around the route, as kept in the cache"),
        "raster from the page": Limit(2_000_000_000, "bytes", "dropped on it; written to disk as it comes"),
        "raster cache": Limit(64_000_000, "bytes", "of decoded blocks"),
    }
)
# Formats of rasters whose pixels lie in the files themselves, by the names of GDAL's drivers.
RASTER_DRIVERS = ("GTiff", "HFA", "AAIGrid", "SRTMHGT", "JP2OpenJPEG", "ENVI", "EHdr")
WEB_DRIVERS = ("GTiff",)


def limit_of(what: str) -> int:
    """Return the most there may be of something in the table."""
    return LIMITS[what].most
