"""The only code that opens a path.

PROJ_LIB and PROJ_DATA are taken out of the environment before rasterio is imported: set by other software,
they point its own PROJ to a foreign database, and then no coordinate reference system can be read.
"""

import os

for _variable in ("PROJ_LIB", "PROJ_DATA"):
    os.environ.pop(_variable, None)
os.environ["PROJ_NETWORK"] = "OFF"  # no datum grids from the web
