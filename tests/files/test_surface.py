"""Heights above the ground from a surface with trees and houses, less the terrain."""

from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.testing import assert_allclose

from routesolar.errors import InputError
from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.raster_tiles import carried
from routesolar.files.surface import heights_from_surface
from routesolar.trip.standing import Buildings
from routesolar.trip.surroundings import values_at
from routesolar.trips.sources import Sources

WEST, NORTH, SIDE_M = 600_000.0, 5_200_000.0, 400
UTM = rasterio.crs.CRS.from_epsg(32632)
WGS84 = rasterio.crs.CRS.from_epsg(4326)
AT = np.linspace(150.0, 250.0, 5)  # metres from the western edge, along the middle


def plane_m(x_m, y_m):
    """A hillside: 500 m, rising by .3 eastwards and falling by .1 northwards."""
    return 500.0 + 0.3 * x_m - 0.1 * y_m


def written(path: Path, cell_m: float, heights_m=None, zero_m=0.0) -> str:
    count = round(SIDE_M / cell_m)
    middle_m = (np.arange(count) + 0.5) * cell_m
    x_m, y_m = np.meshgrid(middle_m, SIDE_M - middle_m)
    values = plane_m(x_m, y_m) + zero_m + (0 if heights_m is None else heights_m)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "width": count, "height": count}
    place = {"crs": UTM, "transform": rasterio.Affine(cell_m, 0.0, WEST, 0.0, -cell_m, NORTH)}
    with rasterio.open(path, "w", **profile, **place) as dataset:
        dataset.write(values.astype(np.float32), 1)
    return str(path)


def degrees_of(x_m, y_m):
    longitude, latitude = carried(UTM, WGS84, WEST + np.asarray(x_m), NORTH - SIDE_M + np.asarray(y_m))
    return latitude, longitude


def standing() -> np.ndarray:
    """A wood 15 m tall in the north and a house of 9 m in the south, cell by cell of 1 m."""
    heights = np.zeros((SIDE_M, SIDE_M))
    heights[120:160, 100:300] = 15.0
    heights[230:240, 190:205] = 9.0
    return heights


@pytest.fixture(scope="module")
def rasters(tmp_path_factory) -> tuple[str, str]:
    folder = tmp_path_factory.mktemp("survey")
    return written(folder / "surface.tif", 1.0, standing()), written(folder / "ground.tif", 10.0)


def middle():
    return degrees_of(AT, np.full(len(AT), SIDE_M / 2))


def test_a_surface_less_a_coarser_terrain_leaves_what_stands_on_the_hillside(rasters):
    along = heights_from_surface(rasters[:1], rasters[1:], *middle())
    rows, cols = np.meshgrid(np.arange(60, 340), np.arange(60, 340), indexing="ij")
    x, y = WEST + cols + 0.5, NORTH - rows - 0.5
    inverse = ~along.transform
    found = values_at(along.grid, inverse.a * x + inverse.c, inverse.e * y + inverse.f)
    assert_allclose(found, standing()[60:340, 60:340], atol=0.01)  # single precision of heights over 500 m


def test_outlines_of_buildings_are_left_out_since_they_stand_by_themselves(rasters):
    x, y = np.array([190.0, 205.0, 205.0, 190.0]), SIDE_M - np.array([240.0, 240.0, 230.0, 230.0])
    latitude, longitude = degrees_of(x, y)
    house = Buildings(latitude_deg=latitude, longitude_deg=longitude, first=[0, 4], height_m=[9.0])
    with_house, without = (
        heights_from_surface(rasters[:1], rasters[1:], *middle(), buildings).grid.tiles
        for buildings in (None, house)
    )
    assert np.nanmax(np.where(np.isclose(with_house, 15.0, atol=0.1), 0, with_house)) > 8.0
    assert np.nanmax(np.where(np.isclose(without, 15.0, atol=0.1), 0, without)) < 0.1


def test_the_canopy_is_that_of_a_raster_of_the_same_heights(rasters, tmp_path):
    heights = tmp_path / "heights.tif"
    with rasterio.open(rasters[0]) as surface:
        profile = surface.profile
    with rasterio.open(heights, "w", **profile) as dataset:
        dataset.write(standing().astype(np.float32), 1)
    said = Said.nothing(len(AT))
    surface = canopy_from(*middle(), CanopySources(surface=rasters[:1], terrain=rasters[1:]), said).canopy
    canopy = canopy_from(*middle(), CanopySources(height=(str(heights),)), said).canopy
    assert surface.cover_frac is None
    assert surface.doubt.heights_sd_frac == canopy.doubt.heights_sd_frac

    assert_allclose(surface.height_m.tiles, canopy.height_m.tiles, atol=0.01)


@pytest.mark.parametrize("zero_m", [45.0, -45.0])
def test_rasters_with_different_zeros_of_height_are_refused(rasters, tmp_path, zero_m):
    other = written(tmp_path / "ellipsoid.tif", 10.0, zero_m=zero_m)
    with pytest.raises(InputError, match="same zero of heights"):
        heights_from_surface(rasters[:1], (other,), *middle())


def test_a_surface_needs_the_ground_beside_it():
    with pytest.raises(ValueError, match="--terrain"):
        Sources(surface=("surface.tif",))
