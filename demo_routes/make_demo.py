"""Make the demo scenario: roads, recorded track, rasters. Everything in it is invented.

Run: python demo_routes/make_demo.py [folder to write to, this one by default]
"""

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import demo_land as land
import numpy as np
import rasterio
from demo_roads import Road, draw, joined, opened_share, reverse, with_hairpins
from rasterio import Affine
from rasterio.warp import transform
from scipy.ndimage import gaussian_filter1d

Array = np.ndarray

INVENTED = "Invented for a demonstration: this land, its roads and its trees exist nowhere."

UTM = "EPSG:32755"
EAST_M, NORTH_M = 440_000.0, 5_385_000.0  # the land's origin in the north of Tasmania
COVER_KM = (-2.1, -6.9, 46.2, 27.0)  # west, south, east, north
TERRAIN_KM = (-27.9, -34.2, 71.1, 54.0)  # what can be seen from the roads
POINT_KM = 0.06  # between the points of a planned route
RECORDED_FROM = datetime(2026, 2, 3, 21, 40, tzinfo=UTC)  # 08:40 by the clock there, daylight saving time
RECORDED_PAUSE_S = 38 * 60
TREES = 8000  # candidates for a place in that raster
SITE_BOX_M = 400.0  # side of the metre-scale raster around sampling site A


def main(folder: Path) -> None:
    """Write all files of the demo into a folder."""
    roads = make_roads()
    places = make_places(roads)
    write_rasters(folder, list(roads.values()), places["sampling site A"])
    out, forest, spur = (roads[name] for name in ("coast", "forest", "spur"))
    junction = int(np.argmin(np.hypot(forest.x - spur.x[0], forest.y - spur.y[0])))
    there, onward = cut(forest, 0, junction), cut(forest, junction, len(forest.x) - 1)
    day = joined(out, reverse(onward), spur, reverse(spur), reverse(there))
    write_route(folder / "coast.gpx", "coast road", out, places, ("depot", "river mouth", "field station"))
    along_forest = ("depot", "ford", "sampling site A", "sampling site B", "field station")
    write_route(folder / "forest.gpx", "forest road", forest, places, along_forest)
    write_route(folder / "transit_day.gpx", "transit day", day, places, tuple(places))
    write_track(folder / "gauge_run.gpx", "gauge run", spur, places["headwater gauge"])


def make_roads() -> dict[str, Road]:
    """Return the three roads: along the coast, through the forest, and up a valley from the latter."""
    west, east = land.ashore(3.0, 2.0), land.ashore(41.0, 2.2)
    corners = [west, (10.6, 13.4), (17.4, 8.0), (25.4, 10.2), (30.6, 9.0), east]
    coast = draw(
        [west, east],
        lambda x, y: 4.0 * ((land.inland_km(x, y) - 1.5) / 1.2) ** 2,
        steep=0.05, winding_km=0.11, seed=1, width_m=16.0,
    )  # fmt: skip
    forest = draw(corners, lambda x, y: 0 * x, steep=0.025, winding_km=0.12, seed=2, width_m=11.0)
    forest = with_hairpins(forest, 32.0, turns=7, radius_m=22.0, straight_m=60.0)
    middle = int(np.argmin(np.hypot(forest.x - 17.4, forest.y - 8.0)))
    start = (float(forest.x[middle]), float(forest.y[middle]))
    spur = draw([start, (16.6, -2.0)], lambda x, y: 0 * x, steep=0.025, winding_km=0.11, seed=3, width_m=8.0)
    return {"coast": coast, "forest": forest, "spur": spur}


def make_places(roads: dict[str, Road]) -> dict[str, tuple[float, float]]:
    """Return where the crew stops (km), named by what is there."""
    coast, forest, spur = roads["coast"], roads["forest"], roads["spur"]

    def at_river(road: Road, first_km: float) -> tuple[float, float]:
        distance = np.where(road.along_km >= first_km, land.river_km(road.x, road.y), np.inf)
        near = int(np.argmax(distance < 0.06))
        return float(road.x[near]), float(road.y[near])

    def at(road: Road, km: float) -> tuple[float, float]:
        near = int(np.argmin(np.abs(road.along_km - km)))
        return float(road.x[near]), float(road.y[near])

    return {
        "depot": at(coast, 0.0),
        "river mouth": at_river(coast, 20.0),
        "field station": at(coast, coast.along_km[-1]),
        "sampling site B": at(forest, 42.6),
        "sampling site A": at(forest, 19.0),
        "ford": at_river(forest, 5.0),
        "headwater gauge": at(spur, spur.along_km[-1]),
    }


def cut(road: Road, first: int, last: int) -> Road:
    """Return the part of a road between two of its points, both included."""
    part = slice(first, last + 1)
    return Road(x=road.x[part], y=road.y[part], elevation_m=road.elevation_m[part], width_m=road.width_m)


def write_rasters(folder: Path, roads: list[Road], site: tuple[float, float]) -> None:
    """Write cover and tree height (30 m), terrain (90 m), and tree height at a stop (2 m)."""
    x, y = cell_centres(COVER_KM, 30.0)
    cover_pct = seen_cover_pct(x, y, roads)
    write_raster(folder / "cover.tif", cover_pct, COVER_KM, 30.0)
    tall_m = np.where(cover_pct > 2, np.round(land.height_m(x, y)), 0).astype("uint8")
    write_raster(folder / "height.tif", tall_m, COVER_KM, 30.0, units=("metre",))
    ground_m = np.round(land.elevation_m(*cell_centres(TERRAIN_KM, 90.0))).astype("int16")
    write_raster(folder / "terrain.tif", ground_m, TERRAIN_KM, 90.0, units=("metre",))
    half = SITE_BOX_M / 2000
    box = tuple(round(v, 2) for v in (site[0] - half, site[1] - half, site[0] + half, site[1] + half))
    write_raster(folder / "height_site_a.tif", single_crowns(box, roads, site), box, 2.0, units=("metre",))


def seen_cover_pct(x: Array, y: Array, roads: list[Road]) -> Array:
    """Return the cover of 30 m cells as seen from above, in percent: the roads' openings lower it."""
    cover = land.cover_frac(x, y) * (1 - opened_share(x, y, 30.0, roads))
    return np.round(cover * 100).astype("uint8")


def single_crowns(box: tuple[float, ...], roads: list[Road], site: tuple[float, float]) -> Array:
    """Return the height over the ground of 2 m pixels: crowns one by one, none over the road and the lay-by."""
    x, y = cell_centres(box, 2.0)
    rng = np.random.default_rng(7)
    east, north = rng.uniform(box[0], box[2], TREES), rng.uniform(box[1], box[3], TREES)
    tall = land.height_m(east, north) * rng.uniform(0.75, 1.15, TREES)
    radius_m = tall * rng.uniform(0.16, 0.24, TREES)
    layers = -np.log(1 - land.cover_frac(east, north))
    wanted = layers * SITE_BOX_M**2 / (np.pi * radius_m**2) / TREES  # chance that makes the cover right
    verge_m = np.min([road.distance_km(east, north) * 1000 - road.width_m / 2 for road in roads], axis=0)
    in_lay_by = np.hypot((east - site[0]) / 0.045, (north - site[1]) / 0.022) < 1
    stands = (rng.uniform(size=TREES) < wanted) & (verge_m > 0.5 * radius_m) & ~in_lay_by
    surface = np.zeros(x.shape)
    for k in np.flatnonzero(stands):
        row, col = round((box[3] - north[k]) * 500), round((east[k] - box[0]) * 500)
        near = np.s_[max(0, row - 6) : row + 6, max(0, col - 6) : col + 6]  # crowns reach 10 m at most
        apart_m = np.hypot(x[near] - east[k], y[near] - north[k]) * 1000
        crown = tall[k] * (0.65 + 0.35 * np.sqrt(np.clip(1 - (apart_m / radius_m[k]) ** 2, 0, 1)))
        surface[near] = np.maximum(surface[near], np.where(apart_m < radius_m[k], crown, 0))
    return np.round(surface).astype("uint8")


def cell_centres(box_km: tuple[float, ...], cell_m: float) -> tuple[Array, Array]:
    """Return x and y (km) of the centres of all cells, row by row from the north."""
    west, south, east, north = (v * 1000 for v in box_km)
    cols, rows = round((east - west) / cell_m), round((north - south) / cell_m)
    x = west + (np.arange(cols) + 0.5) * cell_m
    y = north - (np.arange(rows) + 0.5) * cell_m
    return tuple(np.meshgrid(x / 1000, y / 1000))


def write_raster(path: Path, values: Array, box_km: tuple[float, ...], cell_m: float, **tags: tuple) -> None:
    """Write a compressed GeoTIFF."""
    grid = Affine(cell_m, 0, EAST_M + box_km[0] * 1000, 0, -cell_m, NORTH_M + box_km[3] * 1000)
    profile = {"driver": "GTiff", "count": 1, "dtype": values.dtype.name, "crs": UTM, "transform": grid}
    size = {"height": values.shape[0], "width": values.shape[1]}
    layout = {"tiled": True, "blockxsize": 256, "blockysize": 256}
    packing = {"compress": "deflate", "predictor": 2, "zlevel": 9}
    nodata = -32768 if values.dtype == np.int16 else 255
    with rasterio.open(path, "w", **profile, **size, **layout, **packing, nodata=nodata) as raster:
        raster.write(values, 1)
        raster.update_tags(TIFFTAG_IMAGEDESCRIPTION=INVENTED)
        for name, value in tags.items():
            setattr(raster, name, value)


def geographic(x: Array, y: Array) -> tuple[Array, Array]:
    """Return latitude and longitude of places given in km."""
    east, north = EAST_M + np.asarray(x) * 1000, NORTH_M + np.asarray(y) * 1000
    longitude, latitude = transform(UTM, "EPSG:4326", np.ravel(east), np.ravel(north))
    return np.asarray(latitude), np.asarray(longitude)


def write_route(
    path: Path, name: str, road: Road, places: dict[str, tuple[float, float]], marked: tuple[str, ...]
) -> None:
    """Write a planned route as GPX: a point every 60 m, more on hairpins, places as waypoints."""
    step = round(POINT_KM / 0.02)
    tight = np.flatnonzero(np.diff(road.along_km) < 0.01)
    kept = np.unique(np.concatenate([np.arange(0, len(road.x), step), tight, [len(road.x) - 1]]))
    latitude, longitude = geographic(road.x[kept], road.y[kept])
    points = [
        f'<rtept lat="{lat:.6f}" lon="{lon:.6f}"><ele>{ele:.1f}</ele></rtept>'
        for lat, lon, ele in zip(latitude, longitude, road.elevation_m[kept], strict=True)
    ]
    write_gpx(path, [*waypoints(places, marked), f"<rte><name>{name}</name>", *points, "</rte>"])


def write_track(path: Path, name: str, spur: Road, gauge: tuple[float, float]) -> None:
    """Write the drive up to the gauge and back as a receiver records it: times, a long pause, some noise."""
    rng = np.random.default_rng(8)
    clock_s, away_km = recorded_motion(spur.along_km[-1], rng)
    x, y, z = (np.interp(away_km, spur.along_km, part) for part in (spur.x, spur.y, spur.elevation_m))
    drift = gaussian_filter1d(rng.standard_normal((3, len(x))), 6, axis=1) * [[0.006], [0.006], [6.0]]
    latitude, longitude = geographic(x + drift[0], y + drift[1])
    points = [
        f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"><ele>{ele:.1f}</ele>'
        f"<time>{RECORDED_FROM + timedelta(seconds=int(s)):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>"
        for lat, lon, ele, s in zip(latitude, longitude, z + drift[2], clock_s, strict=True)
    ]
    marked = waypoints({"headwater gauge": gauge}, ("headwater gauge",))
    write_gpx(path, [*marked, f"<trk><name>{name}</name><trkseg>", *points, "</trkseg></trk>"])


def recorded_motion(length_km: float, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return seconds from the start and distance from the junction (km) at every recorded point."""
    clock_s, place_km, heading = [0.0], [0.0], 1
    speed_mps = 0.0
    while heading > 0 or place_km[-1] > 0:
        wanted = 11.0 + 3.0 * np.sin(place_km[-1] * 2.3) + rng.normal(0, 0.7)
        left_km = length_km - place_km[-1] if heading > 0 else place_km[-1]
        speed_mps += np.clip(min(wanted, 2 + left_km * 60) - speed_mps, -6.0, 4.0)
        step_s = 5.0
        place = place_km[-1] + heading * speed_mps * step_s / 1000
        clock_s.append(clock_s[-1] + step_s)
        place_km.append(float(np.clip(place, 0, length_km)))
        if heading > 0 and place_km[-1] >= length_km:
            pause_s = np.arange(20, RECORDED_PAUSE_S + 1, 20)
            clock_s += list(clock_s[-1] + pause_s)
            place_km += [length_km] * len(pause_s)
            heading, speed_mps = -1, 0.0
    return np.array(clock_s), np.array(place_km)


def waypoints(places: dict[str, tuple[float, float]], marked: tuple[str, ...]) -> list[str]:
    """Return the marked places as GPX waypoints."""
    latitude, longitude = geographic(*np.array([places[name] for name in marked]).T)
    return [
        f'<wpt lat="{lat:.6f}" lon="{lon:.6f}"><name>{name}</name></wpt>'
        for name, lat, lon in zip(marked, latitude, longitude, strict=True)
    ]


def write_gpx(path: Path, parts: list[str]) -> None:
    """Write GPX 1.1 with one element a line."""
    opening = '<gpx version="1.1" creator="make_demo.py" xmlns="http://www.topografix.com/GPX/1/1">'
    told = f"<metadata><desc>{INVENTED}</desc><keywords>invented</keywords></metadata>"
    text = "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', opening, told, *parts, "</gpx>", ""])
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
