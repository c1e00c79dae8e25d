"""What an answer rests on, said plainly."""

import numpy as np

from routesolar.physics.bands import HAZE_SD
from routesolar.physics.clouds import SCENARIOS
from routesolar.report.units import Units, percent, power, speed, warmth
from routesolar.report.words_road import road_words
from routesolar.report.words_trees import trees_words
from routesolar.trip.arrays import FloatArray
from routesolar.trip.basis import Basis
from routesolar.trip.names import printable
from routesolar.trip.rig import Battery, Panel

_WHEN = {"stopped": "while standing", "driving": "while driving"}
_CELL_WORDS = {
    "silicon": "silicon cells",
    "cis": "CIS thin film",
    "cdte": "CdTe thin film",
    "ideal": "as efficient in weak light as in full sun",
}


def assumptions(basis: Basis, units: Units) -> tuple[tuple[str, str], ...]:
    """Return what the answer rests on, as pairs of a subject and a sentence."""
    stated = (
        ("Sky", _sky(basis)),
        ("Road", road_words(basis.segments, basis.road, basis.attribution, units)),
        ("Trees", trees_words(basis, units)),
        ("Terrain", _terrain(basis)),
        ("Pace", _pace(basis, units)),
        ("Air", _air(basis, units)),
        ("Panel", _panels(basis)),
        ("Battery", _battery(basis, units)),
        ("Engine", _engine(basis)),
        ("Loads", _loads(basis)),
        *(("Note", printable(note)) for note in basis.notes),
    )
    return tuple((subject, sentence) for subject, sentence in stated if sentence)


def _sky(basis: Basis) -> str:
    name = basis.sky.name
    if basis.sky.index is not None:
        return f"{printable(name)}, given segment by segment as an index of the clear sky."
    if name not in SCENARIOS:
        return f"{printable(name)}."
    haze = (
        f"haze as the month's clear days have it, which a day's own moves by {100 * HAZE_SD:g} % of the energy"
    )
    return f"{printable(name)} ({SCENARIOS[name].seen}); {haze}."


def _terrain(basis: Basis) -> str:
    names = ", ".join(printable(file.name) for file in basis.terrain.files)
    if basis.shade is not None:
        return ""
    if not names:
        return "a level horizon."
    return f"{names}, known for {percent(basis.terrain.data_frac)} of the route."


def _pace(basis: Basis, units: Units) -> str:
    segments = basis.segments
    driving_s = float(segments.duration_s[0][~segments.stopped].sum())
    if driving_s == 0:
        return "parked throughout."
    mean = speed(float(segments.length_m.sum()) / driving_s, units)
    stated = printable(basis.pace)
    return f"{stated}; {mean} on average while driving." if stated else f"{mean} on average while driving."


def _air(basis: Basis, units: Units) -> str:
    sky, weather = basis.sky, basis.sky.weather
    wind = speed(sky.wind_mps, units)
    if sky.air_c is not None:
        air = warmth(sky.air_c, units)
    else:
        air = f"{_span(basis.air_c, units)}usual for the place, season and hour (set it with --air)"
    if weather is not None and np.isfinite(weather.air_c).any():
        air = f"as in {printable(weather.name)}"
    if weather is not None and np.isfinite(weather.wind_mps).any():
        wind = f"as in {printable(weather.name)}"
    return f"{air}; wind {wind}."


def _span(air_c: FloatArray | None, units: Units) -> str:
    if air_c is None:
        return ""
    lowest, highest = (warmth(float(end), units) for end in (air_c.min(), air_c.max()))
    return f"{lowest}, " if lowest == highest else f"{lowest} to {highest}, "


def _panels(basis: Basis) -> str:
    rig = basis.rig
    unlike = f"unlike panels {percent(rig.mismatch_frac)}, " if rig.mismatch_frac else ""
    controller = percent(rig.controller.efficiency_frac)
    return (
        f"{'; '.join(_panel(panel) for panel in rig.panels)}; soiling {percent(rig.soiling_frac)}, "
        f"{unlike}wiring {percent(rig.wiring_frac)}, controller {controller} efficient."
    )


def _panel(panel: Panel) -> str:
    lean = "flat" if panel.tilt_deg == 0 else f"tilted {panel.tilt_deg:g}°"
    use = "" if panel.use == "always" else ", in use while standing"
    aim = ", turned to the sun by hand" if panel.aim == "sun" else ""
    age = f", {percent(panel.age_loss_frac)} lost to age" if panel.age_loss_frac else ""
    made = f"{printable(panel.mounting)}, {_CELL_WORDS[panel.cells]}"
    return f"{printable(panel.name)} {panel.rated_w:g} W, {lean}, {made}{age}{use}{aim}"


def _battery(basis: Basis, units: Units) -> str:
    battery = basis.rig.battery
    if battery is None:
        return ""
    return (
        f"{battery.capacity_wh:g} Wh {printable(battery.kind)}, {percent(battery.start_soc_frac)} full at the "
        f"start, kept above {percent(battery.reserve_soc_frac)}, {_cold(battery, units)}."
    )


def _cold(battery: Battery, units: Units) -> str:
    where = _where(battery, units)
    if battery.cold_limit_c == -np.inf:
        return where
    return f"{where}, not charged below {warmth(battery.cold_limit_c, units)}"


def _where(battery: Battery, units: Units) -> str:
    if battery.temperature_c is not None:
        return f"at {warmth(battery.temperature_c, units)}"
    if battery.placed == "outside":
        return "outside, following the air within hours"
    if battery.placed == "heated":
        kept = warmth(battery.kept_c, units)
        return f"outside, kept at {kept} by its own heater of {power(battery.heating_w)}"
    if battery.cabin_c is None:
        return "within the unheated vehicle, following the air slowly"
    return f"within the vehicle, heated to at least {warmth(battery.cabin_c, units)}"


def _engine(basis: Basis) -> str:
    alternator = basis.rig.alternator
    return "" if alternator is None else f"charges {power(alternator.delivered_w)} while driving."


def _loads(basis: Basis) -> str:
    loads = (
        f"{printable(load.name)} {load.power_w:g} W {_WHEN.get(load.when, printable(load.when))}"
        for load in basis.rig.loads
    )
    listed = ", ".join(loads)
    return f"{listed}." if listed else ""
