"""A winding road through a wood of our own making: the scene of the shade figures, the same everywhere."""

import numpy as np

from routesolar.physics.columns import Columns, columns_of
from routesolar.physics.columns_around import tallest_columns_m
from routesolar.physics.corridor import Corridor, Road, Vehicle, pieces_near
from routesolar.physics.crowns import OVERHANG, Habit
from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.opening import trunk_lines_m
from routesolar.physics.raymarch import Grid, Views
from routesolar.physics.stand import grid_of, tallest_m

HABIT = Habit(0.3, 1.75, 0.0)
TAU = 0.10
LATITUDE, LONGITUDE = 47.0, 8.0
STEP_M, TILE = 50.0, 256


def winding_road(count: int, cell_m: float, seed: int = 1) -> tuple[Views, Road, Grid, np.ndarray]:
    """Return views, road, grid and headings of `count` points 50 m apart; cover and height vary by cell."""
    vertex = _vertices(count)
    middle, along = (vertex[1:] + vertex[:-1]) / 2, vertex[1:] - vertex[:-1]
    heading_deg = np.degrees(np.arctan2(along[:, 0], along[:, 1]))
    corner = vertex.min(axis=0) - 1000.0
    size = ((vertex.max(axis=0) + 1000.0 - corner) / cell_m).astype(int)[::-1]
    grid = _wood(size, cell_m, np.random.default_rng(seed))
    offset = 1.75 * np.column_stack([along[:, 1], -along[:, 0]]) / STEP_M
    place = (middle + offset - corner) / cell_m
    views = Views(
        col=place[:, 0],
        row=grid.height - place[:, 1],
        cells_per_m=np.tile(np.diag([1 / cell_m, -1 / cell_m]), (count, 1, 1)),
        panel_height_m=2.4,
        slope_east=np.zeros(count),
        slope_north=np.zeros(count),
        layers=np.full(count, np.nan),
        height_m=np.full(count, np.nan),
        default_height_m=np.full(count, 15.0),
        tallest_m=np.zeros((count, 2)),
    )
    views = views._replace(tallest_m=tallest_m(views, grid))
    trunks = trunk_lines_m(views, grid, np.full(count, 12.0), HABIT, OVERHANG["opening"])
    degree = np.array(metres_per_degree(LATITUDE))
    latitude, longitude = LATITUDE + vertex[:, 1] / degree[0], LONGITUDE + vertex[:, 0] / degree[1]
    line = Corridor(latitude[:-1], longitude[:-1], latitude[1:], longitude[1:], trunks)
    vehicle = Vehicle(
        LATITUDE + middle[:, 1] / degree[0],
        LONGITUDE + middle[:, 0] / degree[1],
        heading_deg,
        np.full(count, 1.75),
    )
    return views, pieces_near(line, vehicle), grid, heading_deg


def summer_suns(departures: int, count: int, seed: int = 2) -> tuple[np.ndarray, np.ndarray]:
    """Return azimuths and elevations (departures, count) over the daylight of days from April to August."""
    rng = np.random.default_rng(seed)
    declination = np.radians(rng.uniform(5.0, 23.4, (departures, count)))
    latitude = np.radians(LATITUDE)
    dusk = np.arccos(-np.tan(latitude) * np.tan(declination))
    hour = rng.uniform(-0.95, 0.95, declination.shape) * dusk
    up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(declination) * np.cos(hour)
    east = -np.cos(declination) * np.sin(hour)
    return np.degrees(np.arctan2(east, north)) % 360, np.degrees(np.arcsin(up))


def _vertices(count: int) -> np.ndarray:
    """Return the (count + 1, 2) vertices in metres east and north: bends of all radii, most over 80 m."""
    along = np.arange(count) * STEP_M
    heading = 0.9 * np.sin(along / 310.0) + 0.5 * np.sin(along / 127.0 + 1.0) + along / 9000.0
    step = STEP_M * np.column_stack([np.sin(heading), np.cos(heading)])
    return np.vstack([[0.0, 0.0], np.cumsum(step, axis=0)])


def _wood(size: np.ndarray, cell_m: float, rng: np.random.Generator) -> Grid:
    """Return a grid of woods and clearings, heights 6 to 28 m, every cell different."""
    row, col = np.indices(size) * cell_m
    mood = np.sin(row / 340.0) * np.cos(col / 270.0) + 0.5 * np.sin((row + col) / 130.0)
    cover = np.clip(0.5 + 0.35 * mood + rng.normal(0, 0.12, size), 0.0, 0.95)
    height = np.clip(17.0 + 5.0 * np.sin(col / 210.0 - row / 330.0) + rng.normal(0, 3.0, size), 6.0, 28.0)
    tiles = -(-size // TILE)
    padded = np.full((2, *(tiles * TILE)), np.nan, np.float32)
    padded[:, : size[0], : size[1]] = cover, height
    stacked = padded.reshape(2, tiles[0], TILE, tiles[1], TILE).swapaxes(2, 3).reshape(2, -1, TILE, TILE)
    slot = np.arange(tiles.prod(), dtype=np.int32).reshape(tiles)
    return grid_of((stacked[0], slot), (stacked[1], slot), (int(size[0]), int(size[1])))


def metre_columns(count: int, seed: int = 3) -> tuple[Views, Columns, np.ndarray]:
    """Return the same road's views among crowns on a raster of 1 m, a third covered, 8 to 24 m tall."""
    views, _, grid, heading_deg = winding_road(count, 30.0)
    heights = _crowns((grid.height * 30, grid.width * 30), np.random.default_rng(seed))
    tiles = heights.reshape(heights.shape[0] // TILE, TILE, -1, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    slot = np.arange(len(tiles), dtype=np.int32).reshape(heights.shape[0] // TILE, -1)
    columns = columns_of(np.ascontiguousarray(tiles), slot, (grid.height * 30, grid.width * 30), 1.0)
    views = views._replace(col=views.col * 30, row=views.row * 30, cells_per_m=views.cells_per_m * 30)
    return views._replace(tallest_m=tallest_columns_m(views, columns)), columns, heading_deg


def _crowns(size: tuple[int, int], rng: np.random.Generator) -> np.ndarray:
    """Return heights of half ellipsoids at random on a raster padded to whole tiles."""
    heights = np.zeros([-(-side // TILE) * TILE for side in size], np.float32)
    number = int(heights.size * 0.012)
    places = rng.uniform(6, np.array(heights.shape) - 6, (number, 2))
    for (row, col), tall_m in zip(places, rng.uniform(8, 24, number), strict=True):
        radius = 0.2 * tall_m
        rows = np.arange(int(row - radius), int(row + radius) + 1)[:, None]
        cols = np.arange(int(col - radius), int(col + radius) + 1)
        apart = ((rows + 0.5 - row) ** 2 + (cols + 0.5 - col) ** 2) / radius**2
        crown = np.where(apart < 1, tall_m * (0.65 + 0.35 * np.sqrt(np.maximum(0, 1 - apart))), 0)
        heights[rows, cols] = np.maximum(heights[rows, cols], crown)
    return heights
