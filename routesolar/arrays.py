"""Kinds of arrays, named once for all modules."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Tiles = NDArray[np.float32]  # values of a raster's cells, tile by tile, (tiles, side, side)
Slots = NDArray[np.int32]  # which tile lies in each place of the grid of tiles; less than 0: none
