"""The map sheet as a picture: its pixels say what the harvest says."""

import io
from dataclasses import replace

import numpy as np
import pytest
from hostile_names import HOSTILE
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.image import imread
from sample_harvest import renamed, winding_report

from routesolar.report.charts import draw_hours
from routesolar.report.colours import NOTHING, POWER, classes
from routesolar.report.map_axes import draw_signs
from routesolar.report.map_sheet import map_png
from routesolar.report.units import IMPERIAL, METRIC
from routesolar.trip.ground import Ground


def pixels(png):
    return np.round(imread(io.BytesIO(png), format="png")[..., :3] * 255).astype(int)


def painted(picture, colour):
    """How many pixels have exactly this colour."""
    return int(np.all(picture == np.round(np.array(to_rgb(colour)) * 255), axis=-1).sum())


@pytest.fixture(scope="module")
def report():
    return winding_report(600)


@pytest.fixture(scope="module")
def sheet(report):
    return map_png(report)


def test_every_class_on_the_road_is_painted_on_road_and_key(report, sheet):
    scale = classes(float(report.harvest.power_w.max()), POWER)
    used = set(scale.of(report.harvest.power_w[~report.harvest.segments.stopped]).tolist())
    picture = pixels(sheet)
    key = picture[:, int(7.6 * 150) :]
    for number in used:
        colour = scale.colours[number] if number >= 0 else NOTHING
        assert painted(key, colour) > 300  # a swatch is about 48 x 22 pixels
        assert painted(picture, colour) - painted(key, colour) > 30


def test_the_same_report_gives_the_same_bytes(report, sheet):
    assert map_png(report) == sheet


def test_trees_lie_beneath_only_where_there_is_a_picture(report, sheet):
    bare = pixels(map_png(replace(report, ground=Ground())))
    treed = pixels(sheet)
    map_area = (slice(170, 600), slice(90, 1100))
    # Greener than red and blue: dark letters and dark classes of watts have more green than red too.
    others = (area[map_area][..., [0, 2]].max(axis=-1) for area in (bare, treed))
    green = [
        np.mean(area[map_area][..., 1] > most + 3) for area, most in zip((bare, treed), others, strict=True)
    ]
    assert green[0] < 0.01
    assert green[1] > 0.3


def test_hills_lie_beneath_only_where_there_is_a_picture(report, sheet):
    smooth = pixels(map_png(replace(report, ground=replace(report.ground, relief=None))))
    darker = smooth.astype(int).sum(axis=-1) - pixels(sheet).astype(int).sum(axis=-1)
    on_map = darker[170:600, 90:1100]
    assert np.mean(on_map > 20) > 0.1
    assert np.mean(on_map < -10) > 0.05
    assert np.abs(darker[:140]).max() < 40  # the heading; another palette, of 256, may move its greys a little


def test_a_route_across_the_antimeridian_fills_its_sheet():
    picture = pixels(map_png(winding_report(300, west_deg=178.6, picture=False)))
    scale = classes(float(winding_report(300).harvest.power_w.max()), POWER)
    on_map = picture[150:700, 85:1110]
    columns = np.flatnonzero(
        [painted(on_map[:, [column]], scale.colours[0]) for column in range(on_map.shape[1])]
    )
    assert len(columns) > 50


def test_a_drive_by_night_and_a_parked_one_still_have_a_map(report):
    harvest = report.harvest
    dark = replace(
        harvest,
        power_w=harvest.power_w * 0,
        open_sky_w=harvest.open_sky_w * 0,
        state_power_w=harvest.state_power_w * 0,
    )
    assert painted(pixels(map_png(replace(report, harvest=dark))), NOTHING) > 500
    still = harvest.segments.longitude_deg * 0 + 147.0
    south = still * 0 - 42.0
    segments = replace(
        harvest.segments,
        longitude_deg=still,
        end_longitude_deg=still,
        latitude_deg=south,
        end_latitude_deg=south,
        stopped=np.ones(harvest.segments.count, dtype=bool),
    )
    parked = replace(report, harvest=replace(harvest, segments=segments))
    assert len(map_png(parked, IMPERIAL)) > 10_000


def test_many_legs_do_not_run_off_the_sheet(report):
    harvest = replace(report.harvest, legs=report.harvest.legs[:1] * 60)
    segments = replace(
        harvest.segments,
        legs=harvest.segments.legs[:1] * 60,
        leg=np.arange(harvest.segments.count) * 60 // harvest.segments.count,
    )
    assert len(map_png(replace(report, harvest=replace(harvest, segments=segments)))) > 10_000


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_names_are_drawn_as_text(name):
    assert map_png(renamed(winding_report(20, picture=False), name)).startswith(b"\x89PNG")


def test_letters_without_a_font_do_not_warn():
    assert map_png(renamed(winding_report(20, picture=False), "河 ሀገር")).startswith(b"\x89PNG")


def test_hours_are_driven_or_stood_as_everywhere_else(report):
    axes = Figure().subplots()
    draw_hours(axes, report.harvest)
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["driving", "standing"]


def test_stops_ends_and_distances_stand_on_the_sheet(report):
    figure = Figure(figsize=(7, 4), dpi=150)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(146.5, 151.5)
    axes.set_ylim(-47.5, -44)
    draw_signs(axes, report.harvest, classes(float(report.harvest.power_w.max()), POWER), METRIC)
    shown = {text.get_text(): text.get_position() for text in axes.texts}
    stops = {f"{leg.name} {leg.energy_wh:.0f} Wh" for leg in report.harvest.legs if leg.kind == "stop"}
    assert {"1", "2", "3", "4", "5", "Start", "Finish", "200 km", *stops} <= set(shown)
    segments = report.harvest.segments
    row = int(np.flatnonzero(segments.leg == 1)[0])
    assert shown["2"][0] == pytest.approx(segments.longitude_deg[row], abs=0.2)
