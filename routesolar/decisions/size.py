"""How many watts of panel: what each size brings, what of the loads it carries, where more stops helping."""

from dataclasses import asdict, dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from routesolar.decisions.roof import RoofFit
from routesolar.errors import UsageError
from routesolar.model.charge import POOR_FRAC, Days, battery_days, cold_warnings
from routesolar.model.engine import EngineNeed, engine_need
from routesolar.model.scene import Power, Scene, chain_of, run, set_scene, warnings_of
from routesolar.model.sky import sky_states
from routesolar.trip.drawable import NOT_SHOWN, Drawable, Shown
from routesolar.trip.noun import Result
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain

KNEE_FRAC = 0.5  # an added watt that brings less than this share of a watt of the smallest size helps little
CARRIED_FRAC = 0.995
FULL_PROB = 0.5  # a battery that fills on fewer days is not called full


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSize:
    """What one size brings, in the mean over the days of its sky, with the rig's own engine.

    `clipped_wh` is lost at the controller's limit, `cold_wh` to a battery too cold to charge, `full_wh` to one
    that takes no more. `added_per_w_wh` is what each watt more than the next smaller size brings into loads and
    battery. `average_need` is what an engine must give for no load to fall short on an average day, with the
    expected watts all along, `poor_need` on nine days in ten; None where no engine suffices. Without a battery
    the battery's figures are None or 0.
    """

    rated_w: float
    energy_wh: float
    clipped_wh: float
    cold_wh: float
    full_wh: float
    full_prob: float
    load_share_frac: float | None
    shortfall_wh: float | None
    short_prob: float | None
    average_need: EngineNeed | None
    poor_need: EngineNeed | None
    added_per_w_wh: float

    @property
    def used_wh(self) -> float:
        """What reaches loads or battery, in Wh."""
        return self.energy_wh - self.cold_wh - self.full_wh


@dataclass(frozen=True, slots=True, kw_only=True)
class Knee:
    """The size beyond which more watts bring little more energy, and what stops them.

    "controller" is its limit, "cold" a battery too cold to charge, "charging" one that takes no more at a time,
    "battery" a full one, "loads" a full one while no load falls short. `decides_to_w` is the largest size that
    still does away with a need of the engine, or with one that no engine could meet; None where none does.
    """

    rated_w: float
    cause: str
    decides_to_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Sizing(Result):
    """Sizes from small to large under one sky; `knee` is None where every watt still helps.

    `fits` is how panels on offer fit the roof, none where no roof was given.
    """

    sizes: tuple[PanelSize, ...]
    knee: Knee | None
    load_wh: float | None
    sky: str
    title: str = ""
    fits: tuple[RoofFit, ...] = ()
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)


def size_panels(
    segments: Segments,
    rig: Rig,
    canopy: Canopy,
    terrain: Terrain,
    sky: Sky,
    rated_w: list[float],
    fits: tuple[RoofFit, ...] = (),
    shown: Shown = NOT_SHOWN,
) -> Sizing:
    """Return what the rig's panels would give at each rating, all its panels scaled together.

    The battery runs as in `simulate`, the rig's own engine included.

    Raises:
        UsageError: no rating is given or one is not above zero.
        ValueError: `segments` holds more than one departure.
    """
    if len(segments.departure_utc_s) != 1:
        raise ValueError("panels are sized for one departure")
    if not rated_w or not all(0 < watts < np.inf for watts in rated_w):
        given = ", ".join(f"{watts:g}" for watts in rated_w) or "no size"
        raise UsageError(f"{given} to compute; give watts above zero, such as --rated 100W,200W,400W")
    # Trees are in doubt for the battery's days only.
    scene = set_scene(segments, rig, canopy if rig.battery else canopy.certain(), terrain)
    states = sky_states(sky, segments, scene.sun.apparent_elevation_deg)
    found: list[PanelSize] = []
    days = None
    for watts in sorted(set(rated_w)):
        scaled = _scaled(scene, watts)
        power = run(scaled, [states])
        days = None if rig.battery is None else battery_days(scaled, power, states, sky)
        found.append(_size(scaled, states, watts, power, days, found[-1] if found else None))
    return Sizing(
        **shown._asdict(),
        fits=fits,
        sizes=tuple(found),
        knee=_knee(found),
        load_wh=None if days is None else days.total("load_wh"),
        sky=sky.name,
        warnings=(
            *warnings_of(segments, canopy, terrain, sky),
            *(() if days is None else cold_warnings(days, rig)),
        ),
    )


def size_rows(result: Sizing) -> list[dict[str, Any]]:
    """Return a mapping a size, keyed and ordered as the file of rows has them."""
    return [
        {
            "rated_w": size.rated_w,
            "energy_wh": size.energy_wh,
            "load_share_frac": size.load_share_frac,
            "alternator_needed_wh": None if size.average_need is None else size.average_need.given_wh,
            "alternator_needed_w": None if size.average_need is None else size.average_need.charge_w,
            "alternator_needed_poor_wh": None if size.poor_need is None else size.poor_need.given_wh,
            "alternator_needed_poor_w": None if size.poor_need is None else size.poor_need.charge_w,
            "shortfall_wh": size.shortfall_wh,
            "short_prob": size.short_prob,
            "battery_cold_wh": size.cold_wh,
            "battery_full_wh": size.full_wh,
        }
        for size in result.sizes
    ]


def size_dict(result: Sizing) -> dict[str, Any]:
    """Return the result as result.json has it."""
    knee = result.knee
    return {
        "schema": "routesolar.size/1",
        "sky": result.sky,
        "rows": size_rows(result),
        "load_wh": result.load_wh,
        "knee": None if knee is None else asdict(knee),
        "warnings": list(result.warnings),
    }


def _scaled(scene: Scene, rated_w: float) -> Scene:
    """Return the scene with all panels scaled to a rating together; how large they are no longer counts."""
    rig, share = scene.rig, rated_w / scene.rig.rated_w
    panels = tuple(
        replace(panel, rated_w=panel.rated_w * share, length_m=None, width_m=None) for panel in rig.panels
    )
    faces = scene.faces._replace(rated_w=scene.faces.rated_w * share)
    return replace(scene, rig=replace(rig, panels=panels), faces=faces)


def _size(
    scene: Scene,
    states: SkyStates,
    rated_w: float,
    power: Power,
    days: Days | None,
    before: PanelSize | None,
) -> PanelSize:
    hours, rig = scene.segments.duration_s / 3600, scene.rig
    energy_wh = float(np.sum(power.expected_w[0] * hours))
    unlimited = run(scene, [states], chain_of(rig)._replace(max_input_w=np.inf))
    unlimited_wh = float(np.sum(unlimited.expected_w[0] * hours))
    cold_wh, full_wh = (0.0, 0.0) if days is None else (days.total("cold_wh"), days.total("full_wh"))
    used_before_wh, watts_before = (0.0, 0.0) if before is None else (before.used_wh, before.rated_w)
    average = poor = None
    if days is not None:
        average = engine_need(days.draw, power.expected_w[0], np.ones(1), rig, 0.0)
        poor = engine_need(days.draw, days.solar_w, days.chance, rig, POOR_FRAC)
    return PanelSize(
        rated_w=rated_w,
        energy_wh=energy_wh,
        clipped_wh=unlimited_wh - energy_wh,
        cold_wh=cold_wh,
        full_wh=full_wh,
        full_prob=0.0 if days is None else days.chance_of("first_full_utc_s"),
        load_share_frac=None if days is None else days.load_share_frac,
        shortfall_wh=None if days is None else days.total("shortfall_wh"),
        short_prob=None if days is None else days.chance_of("first_short_utc_s"),
        average_need=average,
        poor_need=poor,
        added_per_w_wh=(energy_wh - cold_wh - full_wh - used_before_wh) / (rated_w - watts_before),
    )


def _knee(sizes: list[PanelSize]) -> Knee | None:
    """Return the first size after which every added watt brings less than half of one of the smallest size."""
    least_wh = KNEE_FRAC * sizes[0].added_per_w_wh
    for place, before in enumerate(sizes[:-1]):
        larger = sizes[place + 1 :]
        if all(size.added_per_w_wh < least_wh for size in larger):
            steps = pairwise((before, *larger))
            deciding = [after.rated_w for smaller, after in steps if _relieves(smaller, after)]
            return Knee(
                rated_w=before.rated_w,
                cause=_cause(before, larger[0]),
                decides_to_w=deciding[-1] if deciding else None,
            )
    return None


def _relieves(before: PanelSize, after: PanelSize) -> bool:
    """Return whether a larger size ends a need of the engine, or makes one that it can meet."""
    if before.short_prob is None:
        return False
    for name in ("average_need", "poor_need"):
        old, new = (getattr(size, name) for size in (before, after))
        if new is not None and (old is None or (old.charge_w > 0 and new.charge_w == 0)):
            return True
    return False


def _cause(before: PanelSize, after: PanelSize) -> str:
    """Return what takes most of the energy that a size brings more than the one before."""
    more_wh = {
        "controller": after.clipped_wh - before.clipped_wh,
        "cold": after.cold_wh - before.cold_wh,
        "battery": after.full_wh - before.full_wh,
    }
    cause = max(more_wh, key=more_wh.__getitem__)
    if cause != "battery":
        return cause
    if after.full_prob < FULL_PROB:
        return "charging"
    return "loads" if after.poor_need is not None and after.poor_need.charge_w == 0 else "battery"
