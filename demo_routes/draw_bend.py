"""Draw one bend of the demo's forest road, with its shade by time of day, as outputs/bend.png.

Run: python demo_routes/draw_bend.py
"""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import QuadMesh
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.gpx import read_route
from routesolar.files.terrain import read_terrain
from routesolar.model.shade import cast_shade
from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.sun import SunPosition, sun_position
from routesolar.report.charts import FAINT, INK, OPEN, PAPER
from routesolar.report.charts import SUN as RAY
from routesolar.report.colours import POWER
from routesolar.timetable import drive
from routesolar.trip.route import Plan
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Trees, values_at

HERE = Path(__file__).parent
PICTURE = HERE.parent / "outputs" / "bend.png"
FROM_M, TO_M = 39_130.0, 40_130.0  # a sharp bend between two straighter stretches
MARKS_M = np.arange(0.0, TO_M - FROM_M + 1, 250.0)
DAYS = {"20 November": (2026, 11, 20), "20 June": (2026, 6, 20)}
CLOCK_H = np.arange(5.0, 21.0, 1 / 6)
ROOF_M = 2.4
SUN = LinearSegmentedColormap.from_list("sun", POWER.colours(64))
TREES = LinearSegmentedColormap.from_list("trees", ["#f6f2e8", "#cdd8bd", "#9dbb97", "#6f9c78"])


def main() -> None:
    """Draw the picture."""
    route = read_route([HERE / "forest.gpx"])
    segments = drive(route, np.zeros(1), plan=Plan(speed_mps=15.0, step_m=10.0))
    places = segments.middle_latitude_deg, segments.middle_longitude_deg
    canopy = trees_along(segments)
    terrain = read_terrain([str(HERE / "terrain.tif")], *places, segments.middle_elevation_m, ROOF_M)
    suns = [sun_by_clock(segments, day) for day in DAYS.values()]
    middle_m = segments.along_m + segments.length_m / 2
    shown = (middle_m > FROM_M) & (middle_m < TO_M)
    figure = Figure(figsize=(5.4, 8.2), dpi=160, facecolor=PAPER)
    figure.text(0.04, 0.965, "One bend of the forest road, and its shade", weight="bold", size=13, color=INK)
    draw_plan(figure.add_axes((0.04, 0.62, 0.92, 0.325)), segments, canopy, shown)
    draw_sun_paths(figure.add_axes((0.06, 0.63, 0.22, 0.145)), suns)
    for sun, name, bottom in zip(suns, DAYS, (0.385, 0.155), strict=True):
        shade = cast_shade(segments, canopy, terrain, sun.azimuth_deg, sun.apparent_elevation_deg, ROOF_M)
        axes = figure.add_axes((0.13, bottom, 0.81, 0.19))
        picture = draw_strip(axes, middle_m[shown] - FROM_M, shade.beam_transmittance_frac[:, shown])
        axes.set_title(name, loc="left", fontsize=11, color=INK)
    axes.set_xticks(MARKS_M, [f"{mark_m:.0f} m" for mark_m in MARKS_M])
    key = figure.add_axes((0.13, 0.075, 0.81, 0.012))
    figure.colorbar(picture, cax=key, orientation="horizontal", ticks=(0, 0.25, 0.5, 0.75, 1))
    key.set_xticklabels(["none", "¼", "½", "¾", "all"])
    key.set_xlabel("of the sun's beam reaches the roof", color=INK)
    FigureCanvasAgg(figure).print_png(str(PICTURE))


def trees_along(segments: Segments) -> Canopy:
    """Return the canopy as forest.toml has it: evergreens, driven on the left."""
    sources = CanopySources(
        cover=(str(HERE / "cover.tif"),),
        height=(str(HERE / "height.tif"),),
        road_width_m=11.0,
        trees=Trees(evergreen_frac=1.0),
        drive_side="left",
    )
    places = segments.middle_latitude_deg, segments.middle_longitude_deg
    return canopy_from(*places, sources, Said.nothing(segments.count)).canopy


def sun_by_clock(segments: Segments, day: tuple[int, int, int]) -> SunPosition:
    """Return the sun over every segment at every clock time of a day, (clock times, n)."""
    midnight_s = datetime(*day, tzinfo=ZoneInfo(segments.time_zone)).timestamp()
    return sun_position(
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
        np.broadcast_to(midnight_s + 3600 * CLOCK_H[:, None], (len(CLOCK_H), segments.count)),
    )


def draw_plan(axes: Axes, segments: Segments, canopy: Canopy, shown: np.ndarray) -> None:
    """Draw the road from above over the raster's cover, in metres east and north of the bend's middle."""
    latitude, longitude = segments.middle_latitude_deg, segments.middle_longitude_deg
    middle = int(np.flatnonzero(shown)[shown.sum() // 2])
    north_m, east_m = metres_per_degree(latitude[middle])
    east, north = (longitude - longitude[middle]) * east_m, (latitude - latitude[middle]) * north_m
    centre_east, centre_north = ((line[shown].min() + line[shown].max()) / 2 for line in (east, north))
    east, north = east - centre_east, north - centre_north
    up_m = np.ptp(north[shown]) / 2 + 45
    frame = axes.get_window_extent()
    right_m = up_m * frame.width / frame.height
    x, y = np.meshgrid(np.arange(-right_m, right_m, 4.0), np.arange(-up_m, up_m, 4.0))
    place = canopy.placement
    offset = np.stack([x + centre_east, y + centre_north])
    col, row = np.einsum("ij,jkl->ikl", place.cells_per_m[middle], offset)
    cover = values_at(canopy.cover_frac, col + place.col[middle], row + place.row[middle])
    axes.pcolormesh(x, y, cover, cmap=TREES, vmin=0, vmax=1)
    axes.plot(east, north, color=PAPER, lw=6)
    axes.plot(east, north, color=INK, lw=2.6)
    along_m = segments.along_m + segments.length_m / 2 - FROM_M
    for mark_m in MARKS_M:
        at = np.interp(mark_m, along_m, east), np.interp(mark_m, along_m, north)
        axes.plot(*at, "o", color=PAPER, mec=INK, ms=7)
        axes.annotate(f"{mark_m:.0f} m", at, (9, 4), textcoords="offset points", fontsize=10, color=INK)
    axes.set_xlim(-right_m, right_m)
    axes.set_ylim(-up_m, up_m)
    axes.set_axis_off()


def draw_sun_paths(axes: Axes, suns: list[SunPosition]) -> None:
    """Draw where the sun goes on each day: north is up, the middle is overhead, the circle the horizon."""
    axes.add_patch(Circle((0, 0), 1, facecolor=PAPER, edgecolor=INK, lw=0.8, alpha=0.9))
    for sun in suns:
        azimuth, elevation = np.radians(sun.azimuth_deg[:, 0]), sun.apparent_elevation_deg[:, 0]
        low = np.where(elevation > 0, (90 - elevation) / 90, np.nan)
        x, y = low * np.sin(azimuth), low * np.cos(azimuth)
        axes.plot(x, y, color=RAY, lw=1.6)
        for hour in (9, 12, 15):
            at = np.interp(hour, CLOCK_H, x), np.interp(hour, CLOCK_H, y)
            axes.plot(*at, "o", color=RAY, mec=INK, ms=6)
            axes.annotate(f"{hour}", at, (0, -13), textcoords="offset points", ha="center", size=8, color=INK)
    for way, (x, y) in {"N": (0, 1), "E": (1, 0), "S": (0, -1), "W": (-1, 0)}.items():
        axes.text(0.87 * x, 0.87 * y, way, ha="center", va="center", size=8, color=OPEN)
    axes.set_xlim(-1.05, 1.05)
    axes.set_ylim(-1.05, 1.05)
    axes.set_axis_off()


def draw_strip(axes: Axes, along_m: np.ndarray, left_frac: np.ndarray) -> QuadMesh:
    """Draw one day: metres along the bend across, local time down."""
    step_m, step_h = along_m[1] - along_m[0], CLOCK_H[1] - CLOCK_H[0]
    edges_m = np.append(along_m, along_m[-1] + step_m) - step_m / 2
    edges_h = np.append(CLOCK_H, CLOCK_H[-1] + step_h) - step_h / 2
    picture = axes.pcolormesh(edges_m, edges_h, left_frac, cmap=SUN, vmin=0, vmax=1)
    axes.set_xlim(0, TO_M - FROM_M)
    axes.set_ylim(edges_h[-1], edges_h[0])
    axes.set_yticks((6, 9, 12, 15, 18), ("6:00", "9:00", "12:00", "15:00", "18:00"))
    axes.set_xticks(MARKS_M, [])
    axes.set_facecolor("#d9d7d2")  # night
    axes.spines[:].set_color(FAINT)
    return picture


if __name__ == "__main__":
    main()
