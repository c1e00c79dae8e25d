"""Cells of a tile that stands nowhere on the raster tell nothing of it."""

import numpy as np

from routesolar.physics.stand import grid_of


def test_a_tile_without_a_place_counts_for_nothing() -> None:
    tiles = np.full((2, 4, 4), 0.5, np.float32)
    tiles[0] = 0.0
    slot = np.array([[1]], dtype=np.int32)  # the first tile is used nowhere
    grid = grid_of((tiles, slot), None, (4, 4))
    # Half the ground covered is ln 2 layers of crowns.
    np.testing.assert_allclose(grid.beyond_layers, np.log(2), rtol=1e-6)
    assert np.isfinite(grid.cells[..., 0]).all()
