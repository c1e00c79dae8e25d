"""How long reading a large map takes: a small extract laid beside itself until it is as large as a region.

    python benchmarks/map_region.py country.osm.pbf 300 region.osm.pbf

The copies lie around the first, each as far off as the extract is wide, with numbers of their own. The route is
a diagonal through the first. Says wall time, processor time and peak memory of reading in a process of its own.
"""

import itertools
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import osmium
from osmium.osm import mutable

STRIDE = 1 << 36  # between the numbers of two copies
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])}
READS = """
import resource, sys, time
import numpy as np
from routesolar.files import map_cache
from routesolar.files.map_files import read_maps
map_cache.kept = lambda key: None
map_cache.keep = lambda key, features: None
places = [np.linspace(*map(float, pair.split(":")), 200) for pair in sys.argv[2:4]]
read_maps((sys.argv[4],), *places)  # compiles
started = time.perf_counter(), time.process_time()
found = read_maps((sys.argv[1],), *places)
spent = time.perf_counter() - started[0], time.process_time() - started[1]
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{len(found.tags):,} objects, wall {spent[0]:.1f} s, processor {spent[1]:.1f} s, peak {peak:.0f} MB")
"""


def objects_of(path: Path) -> tuple[list[Any], list[Any], list[Any]]:
    """Return points, lines and relations of a map as plain values."""
    points, lines, relations = [], [], []
    for one in osmium.FileProcessor(str(path)):
        tags = {tag.k: tag.v for tag in one.tags}
        if one.is_node():
            points.append((one.id, one.location.lon, one.location.lat, tags))
        elif one.is_way():
            lines.append((one.id, [node.ref for node in one.nodes], tags))
        else:
            relations.append((one.id, [(m.type, m.ref, m.role) for m in one.members], tags))
    return points, lines, relations


def write_region(objects: tuple[list[Any], list[Any], list[Any]], copies: int, path: Path) -> None:
    """Write so many copies side by side, points first."""
    points, lines, relations = objects
    lon, lat = np.array([point[1] for point in points]), np.array([point[2] for point in points])
    wide, high, side = np.ptp(lon), np.ptp(lat), int(np.ceil(copies**0.5))
    header = osmium.io.Header()
    header.set("sorting", "Type_then_ID")
    writer = osmium.SimpleWriter(str(path), header=header, overwrite=True)
    for k in range(copies):
        east, north = wide * (k % side), high * (k // side - side // 2)
        for number, x, y, tags in points:
            at = (x + east, y + north)
            writer.add_node(mutable.Node(id=number + k * STRIDE, location=at, tags=tags, version=1))
    for k in range(copies):
        for number, nodes, tags in lines:
            here = [node + k * STRIDE for node in nodes]
            writer.add_way(mutable.Way(id=number + k * STRIDE, nodes=here, tags=tags, version=1))
    for k in range(copies):
        for number, members, tags in relations:
            here = [(kind, ref + k * STRIDE, role) for kind, ref, role in members]
            writer.add_relation(mutable.Relation(id=number + k * STRIDE, members=here, tags=tags, version=1))
    writer.close()


def main() -> None:
    """Write the region if it is not there, read it, print what that cost."""
    country, megabytes, region = Path(sys.argv[1]), float(sys.argv[2]), Path(sys.argv[3])
    objects = objects_of(country)
    if not region.exists():
        write_region(objects, round(megabytes * 1e6 / country.stat().st_size), region)
    sides = [sorted(point[k] for point in objects[0]) for k in (2, 1)]
    shares = [[values[int(share * (len(values) - 1))] for share in (0.3, 0.7)] for values in sides]
    words = [":".join(map(str, pair)) for pair in shares]
    print(f"{region.stat().st_size / 1e6:.0f} MB: ", end="", flush=True)
    told = [str(each) for each in itertools.chain([region], words, [country])]
    subprocess.run([sys.executable, "-c", READS, *told], env=ENVIRONMENT, check=True)


if __name__ == "__main__":
    main()
