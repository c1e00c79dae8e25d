"""Let a coverage-guided fuzzer look for bytes that a reader of text does not refuse in words.

    pip install atheris && python tests/fuzz/guided.py gpx -max_total_time=600 -rss_limit_mb=1500 -timeout=30

The readers are gpx, trip, rig, table, pbf, osm, geojson, gpkg, tiff and grid; further options are libFuzzer's
own. It ends at the first finding and keeps its bytes beside it. Of rasters only our own checks guide it: what
opens them is compiled, and not followed. Atheris has wheels for Linux on x86-64 and some Pythons, so it is no
part of the tests.
"""

import os
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np

try:
    import atheris
except ImportError:
    sys.exit("skipped: atheris is not installed, or has no wheel for this Python")

TESTS = Path(__file__).parents[1]
os.environ["NUMBA_DISABLE_JIT"] = "1"  # compiled code cannot be followed
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

with atheris.instrument_imports(include=["routesolar.files", "gpxpy", "tomllib"]):
    from fuzz.cases import right_file

    from routesolar.errors import RoutesolarError
    from routesolar.files import map_cache
    from routesolar.files.gpx import read_route
    from routesolar.files.map_files import read_maps
    from routesolar.files.rasters import read_cover
    from routesolar.files.rigfile import read_rig
    from routesolar.files.tripfile import read_trip_file
    from routesolar.files.weather import read_weather

ROUTE = np.array([-42.0, -42.0]), np.array([147.0, 147.024])  # the road of the fuzzer's cases
ENDINGS = {"pbf": ".osm.pbf", "osm": ".osm", "geojson": ".geojson", "gpkg": ".gpkg"}


def read_map(path: Path) -> object:
    """Read a map around the road."""
    return read_maps((str(path),), *ROUTE)


def read_raster(path: Path) -> object:
    """Read tree cover around the road."""
    return read_cover([str(path)], *ROUTE)


READERS: dict[str, Callable[[Path], object]] = {
    "gpx": read_route,
    "trip": read_trip_file,
    "rig": read_rig,
    "table": read_weather,
    **dict.fromkeys(ENDINGS, read_map),
    **dict.fromkeys(("tiff", "grid"), read_raster),
}


def main() -> None:
    """Fuzz the reader that the first argument names."""
    kind = sys.argv.pop(1)
    read = READERS[kind]
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    (folder / "seeds").mkdir()
    (folder / "seeds" / kind).write_bytes(right_file(kind))
    path = folder / f"file{ENDINGS.get(kind, '')}"
    map_cache.usable_folder = lambda name: None  # every case is read, and none is kept

    def one(content: bytes) -> None:
        path.write_bytes(content)
        with suppress(RoutesolarError):  # refused in words
            read(path)

    atheris.Setup([*sys.argv, str(folder / "seeds")], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
