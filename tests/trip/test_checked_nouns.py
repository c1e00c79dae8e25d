"""Nothing unchecked reaches a compiled loop, which would read past the end of a short array unseen."""

import inspect
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, get_type_hints

import numpy as np
import pytest

import routesolar
from routesolar.decisions.stay import Stay
from routesolar.errors import InputError, UsageError
from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.terrain import read_terrain
from routesolar.model.scene import Scene, run, set_scene
from routesolar.model.shade import vista_along
from routesolar.model.simulation import simulate
from routesolar.model.sky import sky_states
from routesolar.timetable import drive
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Battery, Panel, Rig
from routesolar.trip.route import Pace, Plan, Route, Stop, Stretch, Waypoint
from routesolar.trip.segments import Segments
from routesolar.trip.sky import WEATHER_VALUES, Sky, SkyStates, WeatherSeries
from routesolar.trip.surroundings import TILE, Canopy, Placement, Terrain, TiledGrid, Trees
from tests.drives import straight_drive, utc
from tests.routes import route_of, straight

N = 12
NOON = utc("2026-11-20T12:00+11:00")
RIG = Rig(panels=(Panel(rated_w=200.0),))
SKY = Sky(name="broken")


def segments_of(count: int = N, departures: int = 1) -> Segments:
    return straight_drive(-42, 147, [NOON + 3600 * d for d in range(departures)], segments=count)


def grid_of(value: float) -> TiledGrid:
    tiles = np.full((1, TILE, TILE), value, np.float32)
    return TiledGrid(tiles=tiles, slot=np.zeros((1, 1), np.int32), height=TILE, width=TILE)


def placement(count: int = N) -> Placement:
    at = np.full(count, TILE / 2)
    return Placement(col=at, row=at, cells_per_m=np.tile(np.diag([0.5, -0.5]), (count, 1, 1)))


def canopy(count: int = N, **changes: Any) -> Canopy:
    plain = Canopy.uniform(count, cover_frac=0.6)
    seasonal = np.full((1, count), 0.3)
    return replace(plain, crown_transmittance_frac=seasonal, kind=np.zeros(count, int), **changes)


def terrain(count: int = N) -> Terrain:
    slope = np.zeros(count)
    return Terrain(horizon_deg=np.ones((count, 4)), slope_east_frac=slope, slope_north_frac=slope)


def weather() -> WeatherSeries:
    place, steps = np.array([-42.0, -43.0, -44.0]), 4
    return WeatherSeries(
        name="week.csv",
        typical=False,
        latitude_deg=place,
        longitude_deg=place + 189,
        elevation_m=place * 0,
        time_utc_s=NOON + 3600.0 * np.arange(steps),
        step_s=3600,
        averaged_s=3600,
        **{name: np.full((steps, 3), 0.5) for name in WEATHER_VALUES},
    )


def route() -> Route:
    latitude_deg, longitude_deg = straight(np.arange(N) * 100.0)
    return route_of(latitude_deg, longitude_deg, elevation_m=np.zeros(N), time_utc_s=NOON + np.arange(N) * 10)


NOUNS = (segments_of(), route(), canopy(), terrain(), placement(), weather(), Said.nothing(N))


def arrays_of(noun: Any) -> Iterator[tuple[str, np.ndarray]]:
    for field in fields(noun):
        value = getattr(noun, field.name)
        if isinstance(value, np.ndarray):
            yield field.name, value


# A season's shape is judged where it meets the drive's departures.
EVERY_ARRAY = [
    (noun, name, values)
    for noun in NOUNS
    for name, values in arrays_of(noun)
    if name != "crown_transmittance_frac"
]


@pytest.mark.parametrize(
    ("noun", "name", "values"), EVERY_ARRAY, ids=[f"{type(n).__name__}.{a}" for n, a, _ in EVERY_ARRAY]
)
def test_no_array_of_a_noun_has_a_length_of_its_own(noun: Any, name: str, values: np.ndarray) -> None:
    for wrong in (np.concatenate([values, values[-1:]]), values[:-1], values[..., None, None]):
        with pytest.raises(UsageError, match="shape") as error:
            replace(noun, **{name: wrong})
        assert str(wrong.shape[0]) in str(error.value) or str(len(values)) in str(error.value)
    with pytest.raises(UsageError):
        replace(noun, **{name: np.full(values.shape, "x")})
    with pytest.raises(UsageError, match="masked"):
        replace(noun, **{name: np.ma.masked_invalid(values)})


def test_dates_are_not_taken_for_seconds() -> None:
    dates = (NOON + 10.0 * np.arange(N)).astype("datetime64[s]")
    with pytest.raises(UsageError, match="seconds since 1970"):
        replace(route(), time_utc_s=dates)
    with pytest.raises(UsageError, match="seconds since 1970"):
        drive(route(), dates[:1], plan=Plan())
    with pytest.raises(UsageError, match="seconds since 1970"):
        drive(route(), dates[:1].astype("datetime64[ns]").astype(np.int64), plan=Plan())
    with pytest.raises(UsageError, match="seconds since 1970"):
        replace(segments_of(), departure_utc_s=dates[:1])


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: Canopy.uniform(N, cover_frac=60), "write 60 % as 0.60"),
        (lambda: Canopy.uniform(N, cover_frac=-1), "uniform_cover_frac.*-1"),
        (lambda: Canopy.uniform(N, cover_frac=0.5, height_m=-5), "height_m.*-5"),
        (lambda: Canopy.uniform(N, cover_frac=0.5, road_width_m=np.nan), "road_width_m.*nan"),
        (lambda: replace(canopy(), kind=np.full(N, 1)), "kind"),
        (lambda: replace(canopy(), crown_transmittance_frac=np.full((1, N), 10.0)), "crown_transmittance_frac"),
        (lambda: replace(canopy(), cover_frac=grid_of(0.5)), "0 of them are placed"),
        (lambda: replace(canopy(), cover_frac=grid_of(60), placement=placement()), "cover_frac"),
        (lambda: replace(canopy(), height_m=grid_of(-3), placement=placement()), "height_m"),
        (lambda: replace(canopy(), height_m=grid_of(9), placement=placement(N - 1)), "12 segments, but 11"),
        (lambda: replace(grid_of(9), slot=np.ones((1, 1), np.int32)), "must number the 1 tiles"),
        (lambda: replace(grid_of(9), width=TILE + 1), "slot has shape"),
        (lambda: Trees(crown_slenderness=0), "crown_slenderness"),
        (lambda: Trees(road_width_between="leaves"), "opening, trunks, crowns"),
        (lambda: Stretch(from_m=0, to_m=1, canopy_cover_frac=60), "write 60 % as 0.60"),
        (lambda: Stretch(from_m=0, to_m=1, canopy_height_m=-5), "canopy_height_m"),
        (lambda: Pace(from_m=0, to_m=1, speed_mps=20, road_width_m=-1), "road_width_m"),
        (lambda: Stop(at="0km", at_m=0, duration_s=np.nan), "lasts nan"),
        (lambda: Waypoint(name="ford", latitude_deg=126, longitude_deg=0), "latitude_deg is 126"),
        (lambda: replace(route(), latitude_deg=np.full(N, 126.0)), "latitude_deg.*126.*and 11 more"),
        (lambda: replace(segments_of(), middle_latitude_deg=126.0), "latitude_deg"),
        (lambda: replace(segments_of(), heading_deg=np.nan), "heading_deg.*nan"),
        (lambda: replace(segments_of(), leg=np.arange(N)), "leg must number the 2 legs"),
        (lambda: replace(segments_of(), start_utc_s=segments_of().start_utc_s[:, ::-1]), "decreases along"),
        (lambda: Terrain(horizon_deg=np.full((N, 4), np.nan)), "horizon_deg"),
        (lambda: Sky(name="clear", air_c=288), "degrees Celsius"),
        (lambda: Sky(name="clear", wind_mps=-1), "wind_mps"),
        (lambda: Sky(name="x", weather=replace(weather(), ghi_wm2=5000.0)), "ghi_wm2"),
        (lambda: replace(weather(), time_utc_s=NOON - np.arange(4)), "must increase"),
        (lambda: Panel(rated_w="200W"), "should be a number"),  # type: ignore[arg-type]
        (lambda: CanopySources(cover_frac=60), "write 60 % as 0.60"),
        (lambda: canopy_from(np.zeros(N), np.zeros(N), CanopySources(), Said.nothing(N - 1)), "11 points.*12"),
        (lambda: canopy_from(np.zeros(N), np.zeros(1), CanopySources(), Said.nothing(N)), "1 long"),
        (lambda: read_terrain(["none.tif"], np.zeros(N), np.zeros(N), np.zeros(N - 1), 2.0), "elevation_m"),
        (lambda: read_terrain(["none.tif"], np.full(N, 126.0), np.zeros(N), np.zeros(N), 2.0), "latitude_deg"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_the_way_out(wrong: Callable[[], object], said: str) -> None:
    with pytest.raises((UsageError, InputError), match=said):
        wrong()


def meeting_places() -> Iterator[Any]:
    """Every public function of the package in which a drive meets its canopy or terrain, wherever it is."""
    package = Path(routesolar.__file__).parent
    for path in sorted(package.rglob("*.py")):
        name = ".".join(("routesolar", *path.relative_to(package).with_suffix("").parts))
        if name.startswith(("routesolar.model", "routesolar.decisions", "routesolar.files")):
            for function in vars(import_module(name)).values():
                if inspect.isfunction(function) and function.__module__ == name and function.__name__[0] != "_":
                    hints = get_type_hints(function)
                    hints.pop("return", None)
                    drives = {Segments, Scene, Harvest} & set(hints.values())
                    if drives and {Canopy, Terrain} & set(hints.values()):
                        yield pytest.param(
                            function, hints, id=f"{name.removeprefix('routesolar.')}.{function.__name__}"
                        )


def wooded(count: int = N) -> Canopy:
    return canopy(
        count, height_m=grid_of(1), placement=placement(count), uniform_cover_frac=np.full(count, np.nan)
    )


HOLD_NO_LOOP = {"warnings_of", "unshaded"}  # these read counts and words alone


@pytest.mark.parametrize(("function", "hints"), list(meeting_places()))
def test_wherever_a_drive_meets_its_surroundings_they_must_be_of_one_length(
    function: Callable[..., Any], hints: dict[str, Any]
) -> None:
    if function.__name__ in HOLD_NO_LOOP:
        return
    segments = segments_of()
    scene = set_scene(segments, RIG, Canopy.open(N), Terrain.flat(N))
    for other in (N - 1, N + 1, 1):
        for noun in {Canopy, Terrain} & set(hints.values()):
            fitting = {Canopy: wooded(), Terrain: terrain()} | {
                noun: {Canopy: wooded, Terrain: terrain}[noun](other)
            }
            known = {Segments: segments, Scene: scene, Rig: RIG, Sky: SKY, **fitting}
            arguments = {
                name: known[hint] if hint in known else a_value(name, hint, scene)
                for name, hint in hints.items()
                if inspect.signature(function).parameters[name].default is inspect.Parameter.empty
            }
            with pytest.raises(
                UsageError, match=rf"has ({other}|{N}) segments, but the drive has ({other}|{N})"
            ):
                function(**arguments)


def a_value(name: str, hint: Any, scene: Scene) -> Any:
    """Return something fitting for an argument that is neither drive nor surroundings."""
    return {
        "skies": [SKY],
        "faces": scene.faces,
        "sun": scene.sun,
        "sun_azimuth_deg": scene.sun.azimuth_deg,
        "sun_apparent_elevation_deg": scene.sun.apparent_elevation_deg,
        "panel_height_m": 2.4,
        "departures": slice(None),
        "states": sky_states(SKY, scene.segments, scene.sun.apparent_elevation_deg),
        "rigs": [RIG],
        "vista": vista_along(scene.segments, Canopy.open(N), Terrain.flat(N), 2.4),
        "rated_w": 100.0 if hint is float else [100.0],
        "stay": Stay(
            name="ford",
            latitude_deg=-42.0,
            longitude_deg=147.0,
            elevation_m=0.0,
            along_m=0.0,
            heading_deg=0.0,
            start_utc_s=NOON,
            end_utc_s=NOON + 600,
            time_zone="UTC",
        ),
        "harvest": parked_harvest(),
    }.get(name, np.tile([0.0, 1.0], (1, N // 2)))


@cache
def parked_harvest() -> Harvest:
    parked = straight_drive(-42, 147, [NOON], segments=N, speed_mps=0)
    return simulate(parked, RIG, Canopy.open(N), Terrain.flat(N), [SKY])


def test_the_trees_season_is_of_the_drives_departures() -> None:
    two = segments_of(departures=2)
    for shape in ((3, 1), (2, N + 1)):
        seasonal = replace(canopy(), crown_transmittance_frac=np.full(shape, 0.3))
        with pytest.raises(UsageError, match=r"crown_transmittance_frac is for .* 2 and 12"):
            set_scene(two, RIG, seasonal, Terrain.flat(N))


def test_trees_of_which_nothing_is_known_are_not_an_answer() -> None:
    with pytest.raises(UsageError, match="no raster gives"):
        set_scene(segments_of(), RIG, Canopy.uniform(N, cover_frac=np.nan), Terrain.flat(N))


def test_a_sky_is_of_the_drive_it_is_run_over() -> None:
    scene = set_scene(segments_of(), RIG, Canopy.open(N), Terrain.flat(N))
    states = sky_states(SKY, scene.segments, scene.sun.apparent_elevation_deg)
    for field in fields(SkyStates):
        for shape in ((N - 1,), (N + 1,), (2, N), (1, 1, N)):
            with pytest.raises(UsageError, match=f"{field.name} has shape"):
                run(scene, [replace(states, **{field.name: np.full(shape, 0.5)})])


def test_whole_numbers_are_the_same_as_those_with_a_point() -> None:
    # Compiled loops are made anew, in seconds, for each kind of number that they meet.
    panel = Panel(rated_w=200, tilt_deg=np.float32(15.0), bypass_blocks=2)
    battery = Battery(capacity_wh=1000, reserve_soc_frac=0)
    rig = Rig(panels=(panel,), battery=battery, soiling_frac=0)
    said = (panel.rated_w, panel.tilt_deg, rig.soiling_frac, battery.capacity_wh, battery.reserve_soc_frac)
    assert said == (200.0, 15.0, 0.0, 1000.0, 0.0)
    assert {type(value) for value in (*said, rig.full_load_w, battery.max_charge_w)} == {float}
    assert type(panel.bypass_blocks) is int
