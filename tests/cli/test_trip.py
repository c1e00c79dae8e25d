"""A trip file says what the command line says, to the same effect; the command line wins."""

import hashlib
from pathlib import Path

import pytest
from routes import saved
from terminal import ROOT, asked, refused, road, run

DEMO = ROOT / "demo_routes"

BASE = 'route = "road.gpx"\npanel = "200W"\ndepart = "2026-11-20 12:00"\nspeed = "60km/h"\n'


def trip(folder: Path, extra: str = "", base: str = BASE) -> Path:
    return saved(folder, base + extra, "trip.toml")


# The same in a trip file and on the command line.
SAME = [
    ("", []),
    ('sky = "thin"', ["--sky", "thin"]),
    ("cloud_okta = 4.5", ["--cloud-okta", "4.5"]),
    ('sky = "fair"\nforecast = "week"', ["--sky", "fair", "--forecast", "week"]),
    ("air_c = 31", ["--air", "31C"]),
    ('air = "31C"', ["--air", "31C"]),
    ("wind_mps = 8", ["--wind", "8m/s"]),
    ("canopy_cover_pct = 60", ["--canopy-cover", "60"]),
    (
        "canopy_cover_pct = 60\ncanopy_height_m = 25.5\nroad_width_m = 9.25",
        ["--canopy-cover", "60", "--canopy-height", "25.5m", "--road-width", "9.25m"],
    ),
    ('canopy_cover_pct = 60\ndrive_side = "left"', ["--canopy-cover", "60", "--drive-side", "left"]),
    ('canopy_cover_pct = 60\nseason = "leaf-off"', ["--canopy-cover", "60", "--season", "leaf-off"]),
    ("step_m = 20", ["--step", "20m"]),
    ('legs = "2km"', ["--legs", "2km"]),
    ('tz = "UTC"', ["--tz", "UTC"]),
    ('[[stop]]\nat = "Camp"\nminutes = 45', ["--stop", "Camp:45min"]),
    ('[[stop]]\nat = "7km"\nminutes = 20', ["--stop", "7km:20min"]),
    ('[[pace]]\nfrom = "0km"\nto = "10km"\nspeed = "40km/h"', ["--speed", "40km/h"]),
    (
        'canopy_cover_pct = 60\n[[pace]]\nfrom = "0km"\nto = "10km"\nspeed = "60km/h"\nroad_width_m = 9',
        ["--canopy-cover", "60", "--road-width", "9m"],
    ),
    (
        '[[surroundings]]\nfrom = "0km"\nto = "10km"\ncanopy_cover_pct = 60',
        ["--canopy-cover", "60"],
    ),
    ('[[sky]]\nfrom = "11:00"\nto = "14:00"\nsky = "rain"\n', ["--sky", "rain"]),
]


@pytest.mark.parametrize(("lines", "options"), SAME)
def test_a_trip_file_and_options_give_the_same_result(tmp_path: Path, lines: str, options: list[str]) -> None:
    from_options = run("harvest", *asked(road(tmp_path)), *options, "--json")
    from_file = run("harvest", trip(tmp_path, lines), "--json")
    assert (from_file.code, from_options.code) == (0, 0), from_file.err + from_options.err
    for key in ("departure", "arrival", "route"):
        assert from_file.json[key] == from_options.json[key], key
    # What is said of a stretch is surer than what is said of the whole route, so only the interval differs.
    interval = {"low", "mid", "high"} if "to = " in lines and "canopy_cover" in lines else set()
    for one, other in zip(from_file.json["legs"], from_options.json["legs"], strict=True):
        assert {key: one[key] for key in one if not interval & set(key.split("_"))} == {
            key: other[key] for key in other if not interval & set(key.split("_"))
        }


OF_A_STRETCH = [
    ("lane_offset_m", 0.3),
    ("evergreen_frac", 0.3),
    ("crown_transmittance_frac", 0.3),
    ("crown_base_frac", 0.3),
    ("crown_slenderness", 1.2),
    ("height_spread_frac", 0.3),
    ("road_width_between", '"crowns"'),
]


@pytest.mark.parametrize(("key", "value"), OF_A_STRETCH)
def test_what_is_said_of_a_stretch_comes_before_what_is_said_of_all_trees(
    tmp_path: Path, key: str, value: float | str
) -> None:
    road(tmp_path)
    trees: dict[str, float | str] = {"lane_offset_m": 3, "evergreen_frac": 0.2, "crown_base_frac": 0.6}
    trees |= {"road_width_between": '"trunks"'}
    stretches = [
        f'[[surroundings]]\nfrom = "{from_km}km"\nto = "{to_km}km"\n{key} = {value}\n'
        for from_km, to_km in ((0, 10), (0, 5), (5, 10))
    ]

    def energy_wh(trees: dict[str, float | str], stretch: str = "") -> float:
        words = "".join(f"{name} = {value}\n" for name, value in trees.items())
        lines = f'canopy_cover_pct = 60\nseason = "leaf-off"\n[trees]\n{words}{stretch}'
        return float(run("harvest", trip(tmp_path, lines), "--json").json["totals"]["energy_wh"])

    plain, other = energy_wh(trees), energy_wh({**trees, key: value})
    whole, first, last = (energy_wh(trees, stretch) for stretch in stretches)
    assert plain != pytest.approx(other, rel=2e-4)
    assert whole == pytest.approx(other, rel=1e-9)
    assert first + last == pytest.approx(plain + other, rel=1e-5)  # cut into other segments


def test_an_opening_is_not_fitted_where_the_width_is_measured_otherwise(tmp_path: Path) -> None:
    road(tmp_path)
    lines = 'canopy_cover_pct = 60\n[trees]\nroad_width_between = "trunks"'
    assert "road_width_between" in refused(2, "harvest", trip(tmp_path, lines), "--road-width", "fit")


@pytest.mark.parametrize(("width", "code"), [("", 2), ("road_width_m = 14", 0)])
def test_a_width_said_of_a_stretch_leaves_the_opening_of_the_rest_to_be_fitted(
    tmp_path: Path, width: str, code: int
) -> None:
    base = f'route = "{DEMO / "forest.gpx"}"\ncanopy = "{DEMO / "cover.tif"}"\n' + BASE.split("\n", 1)[1]
    said = f'[[surroundings]]\nfrom = "2km"\nto = "6km"\nroad_width_between = "trunks"\n{width}'
    found = run("harvest", trip(tmp_path, said, base), "--road-width", "fit")
    assert found.code == code, found.err
    assert ("fitted to the raster: a road opening of" in found.err) == (code == 0)


OVERRIDDEN = [
    ("", ["--speed", "30km/h"]),
    ("", ["--depart", "2026-11-20 16:00"]),
    ("", ["--panel", "100W"]),
    ('sky = "rain"', ["--sky", "clear"]),
    ('sky = "rain"', ["--cloud-okta", "1"]),
    ("cloud_okta = 8", ["--sky", "clear"]),
    ("canopy_cover_pct = 90", ["--canopy-cover", "20"]),
    ('units = "imperial"', ["--units", "metric"]),
    ('[[sky]]\nfrom = "11:00"\nto = "14:00"\nsky = "rain"\n', ["--sky", "clear"]),
]


@pytest.mark.parametrize(("lines", "options"), OVERRIDDEN)
def test_the_command_line_wins_over_the_file(tmp_path: Path, lines: str, options: list[str]) -> None:
    road(tmp_path)
    won = run("harvest", trip(tmp_path, lines), *options)
    plain = run("harvest", trip(tmp_path), *options)
    assert (won.code, won.out) == (0, plain.out)


def test_a_panel_on_the_command_line_drops_the_rig_of_the_file(tmp_path: Path) -> None:
    road(tmp_path)
    base = BASE.replace('panel = "200W"', 'rig = "none.toml"')
    assert run("harvest", trip(tmp_path, base=base), "--panel", "200W").code == 0
    assert "none.toml" in refused(3, "harvest", trip(tmp_path, base=base))


def test_display_and_formats_of_the_file_are_kept(tmp_path: Path) -> None:
    road(tmp_path)
    path, out = trip(tmp_path, 'units = "imperial"\nalso = "kml"\n'), tmp_path / "out"
    ran = run("harvest", path, "-o", out)
    assert "6.2 mi" in ran.out
    assert (out / "route.kml").exists()
    assert not (out / "route.gpx").exists()
    assert "6.2 mi" in run("route", path).out


def test_units_of_the_file_are_kept_by_decisions(tmp_path: Path) -> None:
    road(tmp_path)
    road(tmp_path, "far.gpx", length_km=15.0)
    near = trip(tmp_path, 'units = "imperial"\n')
    far = saved(tmp_path, near.read_text(encoding="utf-8").replace("road.gpx", "far.gpx"), "far.toml")
    assert "6.2" in run("compare", near, far).out
    assert "6.2" not in run("compare", near, far, "--units", "metric").out
    site = saved(
        tmp_path,
        f'route = "{DEMO / "forest.gpx"}"\npanel = "200W"\ndepart = "2026-11-20 08:00"\nspeed = "60km/h"\n'
        f'units = "imperial"\ncanopy_height = "{DEMO / "height_site_a.tif"}"\n',
        "site.toml",
    )
    where = ["park", site, "--at", "sampling site A", "--within", "80m"]
    where += ["--stop", "sampling site A:25min"]
    assert " ft" in run(*where).out
    assert " ft" not in run(*where, "--units", "metric").out


def test_a_speed_and_paces_are_both_named(tmp_path: Path) -> None:
    road(tmp_path)
    pace = trip(tmp_path, '[[pace]]\nfrom = "0km"\nto = "5km"\nspeed = "40km/h"\n')
    said = " ".join(run("harvest", pace, "--speed", "80km/h").out.split())
    # 5 km at 40 and 5 km at 80 km/h are 10 km in 11.25 minutes.
    assert "Pace: 80 km/h, other paces by the trip file; 53 km/h on average while driving." in said
    assert "Pace: 80 km/h; 80 km/h on average" in run("harvest", trip(tmp_path), "--speed", "80km/h").out


@pytest.mark.parametrize(
    ("at", "why"), [("Nowhere", 'no waypoint "Nowhere"'), ("70km", "the stop at 70km is not on the route")]
)
def test_a_stop_that_is_never_passed_is_told_by_who_asked_for_it(tmp_path: Path, at: str, why: str) -> None:
    road(tmp_path)
    lines = '[[stop]]\nat = "Camp"\nminutes = 5\n[[stop]]\nat = "{}"\nminutes = 5\n'
    message = refused(3, "harvest", trip(tmp_path, lines.format(at)))
    assert message.startswith(f"{tmp_path / 'trip.toml'}, [[stop]] 2: {why}")
    assert refused(2, "harvest", trip(tmp_path), "--stop", f"{at}:5min").startswith(why)


def test_roofed_stretches_harvest_nothing(tmp_path: Path) -> None:
    road(tmp_path)
    lines = '[[surroundings]]\nfrom = "0km"\nto = "10km"\nroofed = true\n'
    assert run("harvest", trip(tmp_path, lines), "--json").json["totals"]["energy_wh"] == 0


@pytest.mark.parametrize(
    ("table", "what"),
    [
        ('[[pace]]\nfrom = "50km"\nto = "60km"\nspeed = "40km/h"\n', "pace"),
        ('[[surroundings]]\nfrom = "50km"\nto = "60km"\nroofed = true\n', "surroundings"),
    ],
)
def test_what_lies_beyond_the_end_of_the_route_is_warned_of(tmp_path: Path, table: str, what: str) -> None:
    road(tmp_path)
    warnings = run("route", trip(tmp_path, table), "--json").json["warnings"]
    assert f"the {what} from 50 km on had no effect: the route is 10 km long" in warnings


@pytest.mark.parametrize(
    ("lines", "named"),
    [
        ("wheels = 4", "wheels: unknown key"),
        ("canopy_cover_pct = 300", "canopy_cover_pct is 300"),
        ("route = ", "not valid TOML"),
    ],
)
def test_a_bad_trip_file_is_refused_by_every_command(tmp_path: Path, lines: str, named: str) -> None:
    road(tmp_path)
    for command in ("harvest", "route"):
        message = refused(3, command, trip(tmp_path, lines))
        assert named in message
        assert "trip.toml" in message


def test_a_trip_file_stands_alone(tmp_path: Path) -> None:
    assert "give it on its own" in refused(2, "harvest", trip(tmp_path), road(tmp_path))


def assumed_trees(folder: Path, lines: str, *words: str) -> str:
    """Return what a harvest says it assumed of the trees."""
    road(folder)
    said = run("harvest", trip(folder, lines), "--sky", "broken", *words).out.partition("Assumed\n")[2]
    return " ".join(said.partition("Trees: ")[2].partition("\n  Terrain")[0].split())


STRETCH = """[[surroundings]]
from = "4km"
to = "6km"
canopy_height_m = 10
road_width_m = 12
"""


@pytest.mark.parametrize(
    ("lines", "words", "told"),
    [
        (
            "canopy_cover_pct = 60\n",
            [],
            "cover beside the road 60 % (as given); height 15 m (assumed); road opening 12 m (assumed); "
            "deciduous trees (assumed); deciduous ones in leaf (by date and place).",
        ),
        (
            f"canopy_cover_pct = 60\ncanopy_height_m = 16\nroad_width_m = 14\n{STRETCH}",
            ["--season", "leaf-off"],
            "cover beside the road 60 % (as given); "
            "height 16 m (as given) on 0-4.0, 6.0-10 km, 10 m (given by kilometre) on 4.0-6.0 km; "
            "road opening 14 m (as given) on 0-4.0, 6.0-10 km, 12 m (given by kilometre) on 4.0-6.0 km; "
            "deciduous trees (assumed); deciduous ones bare (as given).",
        ),
        (
            "canopy_cover_pct = 60\n[trees]\nevergreen_frac = 0.3\n",
            ["--units", "imperial", "--depart", "2026-05-05 12:00"],
            "cover beside the road 60 % (as given); height 49 ft (assumed); road opening 39 ft (assumed); "
            "30 % of the trees evergreen (as given); deciduous ones with ",
        ),
        ("", [], "none: an open road was assumed. Real roads with trees give less."),
    ],
)
def test_what_was_used_of_the_trees_is_told_by_stretch_and_whence(
    tmp_path: Path, lines: str, words: list[str], told: str
) -> None:
    assert assumed_trees(tmp_path, lines, *words).startswith(told)


def test_rasters_are_named_for_what_they_tell() -> None:
    said = run("harvest", DEMO / "forest.toml", "--sky", "broken").out.partition("Trees: ")[2]
    assert " ".join(said.split()).startswith(
        "cover beside the road as in cover.tif; height as in height.tif; road opening 11 m (as given); "
        "evergreen trees (as given). Rasters known for 100 % of the route."
    )


@pytest.mark.parametrize(
    ("depart", "same"), [("2026-07-01 12:00", "leaf-off"), ("2027-01-10 12:00", "leaf-on")]
)
def test_the_season_is_that_of_date_and_place_unless_said(tmp_path: Path, depart: str, same: str) -> None:
    road(tmp_path)
    told = [
        "harvest",
        trip(tmp_path, "canopy_cover_pct = 60\n"),
        "--depart",
        depart,
        "--sky",
        "broken",
        "--json",
    ]
    energy_wh = {
        season: run(*told, *(["--season", season] if season else [])).json["totals"]["energy_wh"]
        for season in ("", "auto", "leaf-on", "leaf-off")
    }
    assert energy_wh[""] == energy_wh["auto"] == pytest.approx(energy_wh[same], rel=0.01)
    assert energy_wh["leaf-off"] > 1.04 * energy_wh["leaf-on"]


@pytest.mark.parametrize(("slenderness", "warned"), [(0.4, True), (0.5, False)])
def test_crowns_wider_than_umbrellas_are_warned_of(tmp_path: Path, slenderness: float, warned: bool) -> None:
    road(tmp_path)
    said = f"canopy_cover_pct = 60\n[trees]\ncrown_slenderness = {slenderness}"
    warnings = run("harvest", trip(tmp_path, said), "--json").json["warnings"]
    assert any("times as wide as tall" in text for text in warnings) == warned


def test_a_result_names_every_file_it_was_computed_from_with_its_digest(tmp_path: Path) -> None:
    road(tmp_path)
    (tmp_path / "van.toml").write_text("[[panel]]\nrated_w = 200\n", encoding="utf-8")
    hours = [f"2026-11-20T{hour:02d}:00+11:00,-42,147,0.4" for hour in range(6, 22)]
    table = "\n".join(["time,latitude_deg,longitude_deg,cloud_frac", *hours])
    (tmp_path / "day.csv").write_text(table, encoding="utf-8")
    trip = 'route = "road.gpx"\nrig = "van.toml"\nweather = "day.csv"\nspeed = "60km/h"\n'
    (tmp_path / "trip.toml").write_text(trip + 'depart = "2026-11-20 12:00"\n', encoding="utf-8")
    due = [
        {"what": what, "name": name, "sha256": hashlib.sha256((tmp_path / name).read_bytes()).hexdigest()}
        for what, name in (("route", "road.gpx"), ("rig", "van.toml"), ("weather", "day.csv"))
    ]
    for command in (["harvest"], ["departures", "--from", "9:00", "--to", "15:00", "--every", "6h"]):
        found = run(*command, tmp_path / "trip.toml", "--json").json
        assert found["inputs"] == due
        assert found["software"].startswith("routesolar ")
