"""Rasters are placed by the database that came with rasterio, whatever else PROJ_DATA in the environment names.

Set by other software, PROJ_LIB and PROJ_DATA point to a foreign database, in which no coordinate reference
system can be read. The environment stays as it is: pyproj, geopandas and others beside us go on as they were.
rasterio has no public way to say it.
"""

from pathlib import Path

import rasterio
from rasterio._env import set_proj_data_search_path

_DATABASE = Path(rasterio.__file__).parent / "proj_data"


def use_own_database() -> None:
    """Let rasterio look into its own database; without one, as where the system built it, nothing changes."""
    if _DATABASE.is_dir():
        set_proj_data_search_path(str(_DATABASE))
