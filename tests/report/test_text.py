"""What is said in the terminal: the answer first, honest, and safe whatever a file calls its places."""

from dataclasses import replace
from datetime import datetime

import pytest
from hostile_names import HOSTILE
from sample_harvest import full_report, renamed, winding_report

from routesolar.report import text, units
from routesolar.report.assumed import assumptions
from routesolar.report.loss_bars import losses_svg
from routesolar.report.table import harvest_text, leg_table
from routesolar.report.units import IMPERIAL, METRIC
from routesolar.trip.harvest import SkyResult
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.surroundings import Canopy


@pytest.fixture(scope="module")
def report():
    return winding_report()


def with_totals(report, **totals):
    harvest = report.harvest
    return replace(report, harvest=replace(harvest, totals=replace(harvest.totals, **totals)))


def test_the_first_line_is_the_answer(report):
    answered = with_totals(report, energy_wh=412.3)
    first = harvest_text(answered, METRIC, 100).splitlines()[0]
    assert first == "A 200 W panel should deliver 412 Wh on this drive."


def test_the_answer_says_what_nine_days_in_ten_give_when_that_is_known(report):
    known = with_totals(report, energy_wh=412.3, energy_low_wh=210.0)
    assert text.headline(known) == (
        "A 200 W panel should deliver 412 Wh on this drive (nine days in ten at least 210 Wh)."
    )


def test_several_panels_are_added_up(report):
    rig = Rig(panels=(Panel(rated_w=220.0), Panel(rated_w=110.0)))
    several = replace(report, basis=replace(report.basis, rig=rig))
    assert text.headline(several).startswith("Panels of 330 W in total")


def test_a_drive_in_the_dark_is_called_one(report):
    dark = with_totals(
        report, energy_wh=0.0, open_sky_wh=0.0, clear_sky_wh=0.0, shade_loss_frac=None, cloud_loss_frac=None
    )
    assert text.headline(dark).startswith("A 200 W panel should deliver 0 Wh")
    assert text.losses(dark) == "The sun is down for the whole drive."


def test_the_doubt_about_trees_is_in_the_answer_and_told_apart_where_it_moves_it(report):
    ends = {"energy_wh": 400.0, "energy_low_wh": 210.0, "energy_high_wh": 560.0}
    clouds = {"energy_clouds_low_wh": 250.0, "energy_clouds_high_wh": 520.0}
    moved = with_totals(report, **ends, **clouds, energy_shade_low_wh=310.0, energy_shade_high_wh=420.0)
    assert text.headline(moved).endswith("(nine days in ten at least 210 Wh, clouds and trees together).")
    assert text.interval(moved) == (
        "Eight times in ten it is 210 Wh to 560 Wh; from the clouds alone 250 Wh to 520 Wh, from uncertainty "
        "about the trees alone 310 Wh to 420 Wh."
    )
    same = with_totals(report, **ends, **clouds, energy_shade_low_wh=0.0, energy_shade_high_wh=0.0)
    assert text.interval(same) == ""
    assert text.headline(same).endswith("(nine days in ten at least 210 Wh).")


def test_where_nothing_is_said_of_trees_the_first_words_are_on_an_open_road(report):
    bare = replace(report, basis=replace(report.basis, canopy=Canopy.open(report.harvest.segments.count)))
    assert text.headline(bare).startswith("On an open road, a 200 W panel should deliver ")
    rig = Rig(panels=(Panel(rated_w=220.0), Panel(rated_w=110.0)))
    two = replace(bare, basis=replace(bare.basis, rig=rig))
    assert text.headline(two).startswith("On an open road, panels of 330 W in total should deliver ")


def test_the_journey_has_its_local_times_zone_and_offset(report):
    assert "20 Nov 2026 07:30 to 21:30 (Australia/Hobart, UTC+11:00)" in text.journey(report, METRIC)


def test_an_arrival_on_another_day_says_which():
    overnight = winding_report(depart_utc_s=datetime.fromisoformat("2026-12-31T20:00:00+11:00").timestamp())
    assert "Thu 31 Dec 2026 20:00 to Fri 1 Jan 2027 10:00" in text.journey(overnight, METRIC)


def test_the_leg_table_adds_up_to_its_last_row(report):
    lines = [line.split() for line in leg_table(report, METRIC, 120).splitlines() if line.strip()]
    assert lines[0][:4] == ["leg", "start", "km", "min"]
    legs, total = lines[2:-1], lines[-1]
    assert len(legs) == 5
    # Each shown number is rounded to one: five of them are at most 2.5 off.
    for column in (-1, -2, -5):
        assert sum(float(leg[column]) for leg in legs) == pytest.approx(float(total[column]), abs=2.5)


@pytest.mark.parametrize("width", [30, 40, 60, 80, 200])
def test_every_line_fits_the_terminal(report, width):
    assert max(len(line) for line in harvest_text(report, METRIC, width).splitlines()) <= width


def test_the_energy_stays_on_the_narrowest_terminal(report):
    narrow = leg_table(report, METRIC, 30).splitlines()
    assert narrow[0].split() == ["leg", "Wh"]


def test_imperial_is_a_matter_of_display():
    # Exact by definition: 1 mi = 1.609344 km, 1 ft = 0.3048 m; 15 C is 59 F.
    assert units.distance(160.9344, IMPERIAL) == "100 mi"
    assert units.speed(44.704, IMPERIAL) == "100 mph"
    assert units.height(30.48, IMPERIAL) == "100 ft"
    assert units.warmth(15, IMPERIAL) == "59 °F"
    assert units.speed(25, METRIC) == "90 km/h"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (50, "50 s"), (59.7, "1 min"), (3600, "1 h"), (3601, "1 h"), (16800, "4 h 40 min")],
)
def test_durations_read_naturally(seconds, words):
    assert units.duration(seconds) == words


@pytest.mark.parametrize(
    ("wh", "words"), [(0.0, "0 Wh"), (3.24, "3.2 Wh"), (9.97, "10 Wh"), (1431.4, "1431 Wh"), (12_400, "12 kWh")]
)
def test_energies_read_naturally(wh, words):
    assert units.energy(wh) == words


def test_what_was_assumed_is_said(report):
    said = dict(assumptions(report.basis, METRIC))
    assert said["Trees"].startswith("cover beside the road 40 % (as in cover.tif); height 15 m; road ")
    assert said["Trees"].endswith(" Rasters known for 97 % of the route.")
    assert said["Sky"].startswith("broken (")
    assert said["Pace"].startswith("as recorded; ")
    assert said["Air"].startswith("15 °C, usual for the place, season and hour (set it with --air); wind")
    bare = replace(report, basis=replace(report.basis, canopy=Canopy.open(report.harvest.segments.count)))
    assert dict(assumptions(bare.basis, METRIC))["Trees"].startswith("none")


def test_warnings_are_counted_in_the_report(report):
    shown = harvest_text(report, METRIC, 100)
    assert shown.endswith("1 warning was given beside this report.\n")
    assert "straight lines" not in shown  # it is told beside
    calm = replace(report, harvest=replace(report.harvest, warnings=()))
    assert "warning" not in harvest_text(calm, METRIC, 100)


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE.keys())
@pytest.mark.parametrize("width", [40, 100])
def test_hostile_names_cannot_steer_the_terminal(report, name, width):
    shown = harvest_text(renamed(report, name), METRIC, width)
    assert all(line.isprintable() for line in shown.split("\n"))
    shown.encode()


def test_square_brackets_in_a_name_are_shown_as_they_are(report):
    assert "[bold red]loud[/]" in leg_table(renamed(report, "[bold red]loud[/]"), METRIC, 120)


def test_the_battery_is_told_in_sentences():
    told = " ".join(text.battery(full_report()))
    assert told.startswith("On average the battery goes from 60 % to ")
    assert "On the worst day in ten its lowest is 40 % and the loads fall 56 Wh short." in told
    assert "It fills on 20 % of such days." in told
    assert "It has no room for 12 Wh of sun." in told
    assert "The sun covers 70 % of what the loads use, directly or through the battery." in told
    assert (
        "Loads are cut off at the reserve on 30 % of such days (by 19:30 on one in ten): "
        "on average they fall 34 Wh short over 30 min." in told
    )
    assert "Charging at 80 W while driving, 900 Wh in all, would keep them running on nine days in ten." in told
    assert "cold" not in told


def battery_turned_away(losses_wh: dict[str, float], **charge: float) -> str:
    """What is said of a battery that turns sun away."""
    report = full_report()
    harvest = report.harvest
    told = replace(harvest, losses_wh=losses_wh, charge=replace(harvest.charge, **charge))
    return " ".join(text.battery(replace(report, harvest=told)))


def test_a_cold_battery_is_said_to_be_cold_and_never_to_have_no_room():
    told = battery_turned_away({"battery_cold": 300.0, "battery_full": 0.0}, full_prob=0.0)
    assert "It is too cold to charge for 1 h 30 min, which loses 300 Wh of sun." in told
    assert "room" not in told and "full" not in told


def test_a_battery_is_called_full_only_where_it_fills():
    told = battery_turned_away({"battery_cold": 0.0, "battery_full": 40.0}, full_prob=0.0)
    assert "It cannot take 40 Wh of sun as fast as it comes." in told
    assert "room" not in told and "full" not in told


def test_what_is_delivered_and_what_is_taken_have_each_their_name():
    report = full_report()
    delivered, taken = report.harvest.totals.energy_wh, report.harvest.battery_wh
    assert text.headline(report).endswith(f", of which loads and battery take {units.energy(taken)}.")
    assert text.loss_ledger(report).endswith(
        f"; {units.energy(delivered)} delivered. Of these: battery takes no more 12; {units.energy(taken)} "
        "taken by loads and battery."
    )
    drawn = losses_svg(report)
    assert ">delivered<" in drawn and ">taken by loads, battery<" in drawn
    without = replace(report, harvest=replace(report.harvest, battery_wh=delivered))
    assert "of which" not in text.headline(without)


def test_where_clear_brings_less_the_words_say_why():
    report = winding_report()
    skies = (SkyResult(sky="broken", energy_wh=120.0), SkyResult(sky="clear", energy_wh=117.0))
    shaded = replace(report.harvest, skies=skies, totals=replace(report.harvest.totals, energy_wh=120.0))
    told = text.other_skies(replace(report, harvest=shaded))
    assert "clear 117 Wh. Clear gives less here: the sun's beam seldom reaches the roof" in told
    open_road = replace(shaded, skies=(skies[0], SkyResult(sky="clear", energy_wh=150.0)))
    assert text.other_skies(replace(report, harvest=open_road)) == "Under other skies: clear 150 Wh."


def test_clouds_that_give_more_than_a_clear_sky_are_not_said_to_take():
    report = winding_report()
    totals = replace(report.harvest.totals, shade_loss_frac=0.3, cloud_loss_frac=-0.04)
    told = text.losses(replace(report, harvest=replace(report.harvest, totals=totals)))
    assert told == (
        "Trees and terrain take 30 % of what an open road would give; in that shade this sky gives 4 % more "
        "than a clear one."
    )


def test_without_a_battery_nothing_is_said_of_one(report):
    assert text.battery(report) == ()
    assert "attery" not in harvest_text(report, METRIC, 120)


def test_the_losses_are_listed_without_those_that_are_nothing():
    listed = text.loss_ledger(full_report())
    assert "Wh lost to: clouds 300, trees 120, reflection 20, cell temperature -8.0; " in listed
    assert "terrain" not in listed


def test_nine_days_in_ten_and_the_battery_have_columns_where_known():
    lines = leg_table(full_report(), METRIC, 120).splitlines()
    assert lines[0].split()[-9:] == "Wh 9 days in 10 shade loss Wh battery".split()
    assert lines[2].split()[-1].endswith("%") or lines[2].split()[-1] == "%"


def test_the_rig_is_said_with_its_battery_engine_and_loads():
    said = dict(assumptions(full_report().basis, METRIC))
    assert said["Battery"].startswith("1000 Wh lithium, 60 % full at the start")
    assert said["Engine"] == "charges 30 W while driving."
    assert said["Loads"] == "sample freezer 90 W always."
