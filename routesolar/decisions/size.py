"""How large panel, battery and charger: what each brings, which loads it carries, where more helps little."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from itertools import groupby, pairwise
from typing import Any

import numpy as np

from routesolar.decisions.criterion import BestBy, Outcome, first_as_good
from routesolar.decisions.roof import RoofFit
from routesolar.decisions.supplies import stored_in, supplies_of
from routesolar.errors import UsageError
from routesolar.model.charge import POOR_FRAC, Days, cold_warnings, days_of, draw_of, paths_of
from routesolar.model.day_quantiles import quantile
from routesolar.model.engine import EngineNeed, engine_need
from routesolar.model.scene import Power, Scene, chain_of, run, set_scene, warnings_of
from routesolar.model.sky import sky_states
from routesolar.physics.on_lit import OnLit
from routesolar.physics.sky_paths import SkyPaths
from routesolar.trip.drawable import NOT_SHOWN, Drawable, Shown
from routesolar.trip.noun import Result
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.wanted import in_steps, share_of_work

SCENE_SHARE = 0.4  # of the time
KNEE_FRAC = 0.5  # an added watt that brings less than this share of a watt of the smallest size helps little
CARRIED_FRAC = 0.995
FULL_PROB = 0.5  # a battery that fills on fewer days is not called full


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSize:
    """What one size brings, in the mean over the days of its sky.

    `charge_w` is what the engine charges with while it drives, 0 where it does not; the rig's own unless others
    are asked for, as is `capacity_wh`. `energy_low_wh` is exceeded nine days in ten, `shortfall_poor_wh` what
    loads miss at most on them. `clipped_wh` is lost at the controller's limit, `cold_wh` to a battery too cold
    to charge, `full_wh` to one that takes no more. `added_per_w_wh` is what each watt more than the next
    smaller size brings into loads and battery. `average_need` is what an engine must give for no load to fall
    short on an average day, with the expected watts all along, `poor_need` on nine days in ten; None where no
    engine suffices. Without a battery the battery's figures are None or 0.
    """

    rated_w: float
    capacity_wh: float | None = None
    charge_w: float = 0.0
    energy_wh: float
    energy_low_wh: float | None = None
    clipped_wh: float
    cold_wh: float = 0.0
    full_wh: float = 0.0
    full_prob: float = 0.0
    load_share_frac: float | None = None
    shortfall_wh: float | None = None
    shortfall_poor_wh: float | None = None
    short_prob: float | None = None
    average_need: EngineNeed | None = None
    poor_need: EngineNeed | None = None
    added_per_w_wh: float = 0.0
    soc_end_frac: float | None = None

    @property
    def used_wh(self) -> float:
        """What reaches loads or battery, in Wh."""
        return self.energy_wh - self.cold_wh - self.full_wh

    @property
    def outcome(self) -> Outcome:
        """What sizes are ranked by."""
        return Outcome(self.used_wh, self.energy_wh, 0.0, self.soc_end_frac, None, self.shortfall_wh)

    @property
    def engine_rests(self) -> bool:
        """Whether no load falls short on nine days in ten without any engine."""
        return self.poor_need is not None and self.poor_need.charge_w == 0

    @property
    def serves(self) -> bool:
        """Whether no load falls short on nine days in ten with what the engine charges here."""
        return self.short_prob is not None and self.short_prob <= POOR_FRAC


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
    """Sizes under one sky, from small to large: of battery, then of charger, then of panel.

    `knee` is None where every watt still helps, and where there are several batteries or chargers. `fits` is
    how panels on offer fit the roof, none where no roof was given.
    """

    sizes: tuple[PanelSize, ...]
    knee: Knee | None
    load_wh: float | None
    sky: str
    best_by: BestBy = BestBy.ENERGY
    title: str = ""
    fits: tuple[RoofFit, ...] = ()
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    @property
    def best(self) -> PanelSize:
        """The first size that the best by `best_by` beats by a trifle only."""
        return self.sizes[first_as_good(self.best_by, [size.outcome for size in self.sizes])]


def size_panels(
    segments: Segments,
    rig: Rig,
    canopy: Canopy,
    terrain: Terrain,
    sky: Sky,
    rated_w: Sequence[float],
    fits: tuple[RoofFit, ...] = (),
    shown: Shown = NOT_SHOWN,
    *,
    capacity_wh: Sequence[float] = (),
    charge_w: Sequence[float] = (),
) -> Sizing:
    """Return what the rig's panels would give at each rating, all its panels scaled together.

    With each of the given capacities of the battery, whose largest charge power grows with it, and each of the
    given powers with which the engine charges (0 for none); the rig's own where none is given. The battery runs
    as in `simulate`.

    Raises:
        UsageError: no rating is given, a size is not above zero, or the rig has no battery to vary.
        ValueError: `segments` holds more than one departure.
    """
    if len(segments.departure_utc_s) != 1:
        raise ValueError("panels are sized for one departure")
    if not rated_w or not all(0 < watts < np.inf for watts in rated_w):
        given = ", ".join(f"{watts:g}" for watts in rated_w) or "no size"
        raise UsageError(f"{given} to compute; give watts above zero, such as --rated 100W,200W,400W")
    with share_of_work(0.0, SCENE_SHARE):
        scene = set_scene(segments, rig, canopy, terrain)
    states = sky_states(sky, segments, scene.sun.apparent_elevation_deg)
    supplies = supplies_of(rig, capacity_wh, charge_w)
    found: dict[tuple[float | None, float], list[PanelSize]] = {stored_in(own): [] for own in supplies}
    days = None
    for watts in in_steps(sorted(set(rated_w)), SCENE_SHARE):
        scaled = _scaled(scene, watts)
        power = run(scaled, [states])
        paths = paths_of(scaled, power, states, sky)
        average_w = OnLit.everywhere(power.expected_w[0])
        bare = _bare(scaled, states, watts, power, paths)
        if rig.battery is None:
            _add(found[stored_in(rig)], bare, None)
            continue
        needs: dict[float | None, tuple[EngineNeed | None, EngineNeed | None]] = {}
        for own in supplies:
            days = days_of(draw_of(segments, own, states), paths, own)
            capacity, charge = stored_in(own)
            if capacity not in needs:
                any_engine = replace(own, alternator=rig.alternator)
                needs[capacity] = (
                    engine_need(days.draw, average_w, np.ones(1), any_engine, 0.0),
                    engine_need(days.draw, days.solar_w, days.chance, any_engine, POOR_FRAC),
                )
            average, poor = needs[capacity]
            here = replace(bare, capacity_wh=capacity, charge_w=charge, average_need=average, poor_need=poor)
            _add(found[capacity, charge], here, days)
    sizes = tuple(size for of_one in found.values() for size in of_one)
    told = () if days is None else cold_warnings(days, rig)
    return Sizing(
        **shown._asdict(),
        fits=fits,
        sizes=sizes,
        knee=_knee(sizes) if len(found) == 1 else None,
        load_wh=None if days is None else days.total("load_wh"),
        sky=sky.name,
        warnings=warnings_of(segments, canopy, terrain, sky) + told,
    )


def groups_of(result: Sizing) -> tuple[tuple[PanelSize, ...], ...]:
    """Return the sizes of each battery and charger together, from small panels to large."""
    grouped = groupby(result.sizes, lambda size: (size.capacity_wh, size.charge_w))
    return tuple(tuple(sizes) for _, sizes in grouped)


def charted(result: Sizing) -> tuple[PanelSize, ...]:
    """Return the sizes that a chart over the panel's watts shows: those of the largest battery and charger."""
    return groups_of(result)[-1]


def engine_off(result: Sizing) -> tuple[PanelSize, ...]:
    """Return, battery by battery, the smallest panel with which the engine may stay off; none without loads."""
    if not result.load_wh:
        return ()
    first: dict[float | None, PanelSize] = {}
    for size in result.sizes:
        if size.engine_rests:
            first.setdefault(size.capacity_wh, size)
    return tuple(first.values())


def serving(result: Sizing) -> tuple[PanelSize, ...]:
    """Return, for each battery and charger, the smallest panel that serves all loads on nine days in ten."""
    if not result.load_wh:
        return ()
    served = ([size for size in sizes if size.serves] for sizes in groups_of(result))
    return tuple(sizes[0] for sizes in served if sizes)


def size_rows(result: Sizing) -> list[dict[str, Any]]:
    """Return a mapping a size, keyed and ordered as the file of rows has them."""
    return [
        {
            "rated_w": size.rated_w,
            "capacity_wh": size.capacity_wh,
            "charge_w": None if size.capacity_wh is None else size.charge_w,
            "energy_wh": size.energy_wh,
            "energy_low_wh": size.energy_low_wh,
            "load_share_frac": size.load_share_frac,
            "alternator_needed_wh": None if size.average_need is None else size.average_need.given_wh,
            "alternator_needed_w": None if size.average_need is None else size.average_need.charge_w,
            "alternator_needed_poor_wh": None if size.poor_need is None else size.poor_need.given_wh,
            "alternator_needed_poor_w": None if size.poor_need is None else size.poor_need.charge_w,
            "shortfall_wh": size.shortfall_wh,
            "shortfall_poor_wh": size.shortfall_poor_wh,
            "short_prob": size.short_prob,
            "battery_cold_wh": size.cold_wh,
            "battery_full_wh": size.full_wh,
            "soc_end_frac": size.soc_end_frac,
        }
        for size in result.sizes
    ]


def size_dict(result: Sizing) -> dict[str, Any]:
    """Return the result as result.json has it."""
    return {
        "schema": "routesolar.size/1",
        "sky": result.sky,
        "best_by": result.best_by.value,
        "best": _size_of(result.best),
        "rows": size_rows(result),
        "load_wh": result.load_wh,
        "knee": None if result.knee is None else asdict(result.knee),
        "engine_off": [_size_of(size) for size in engine_off(result)],
        "serving": [_size_of(size) for size in serving(result)],
        "warnings": list(result.warnings),
    }


def _size_of(size: PanelSize) -> dict[str, float | None]:
    return {"rated_w": size.rated_w, "capacity_wh": size.capacity_wh, "charge_w": size.charge_w}


def _scaled(scene: Scene, rated_w: float) -> Scene:
    """Return the scene with all panels scaled to a rating together; how large they are no longer counts."""
    rig, share = scene.rig, rated_w / scene.rig.rated_w
    panels = tuple(
        replace(panel, rated_w=panel.rated_w * share, length_m=None, width_m=None) for panel in rig.panels
    )
    faces = scene.faces._replace(rated_w=scene.faces.rated_w * share)
    return replace(scene, rig=replace(rig, panels=panels), faces=faces)


def _bare(scene: Scene, states: SkyStates, rated_w: float, power: Power, paths: SkyPaths) -> PanelSize:
    """Return what a size brings to the battery's terminals."""
    hours = scene.segments.duration_s / 3600
    energy_wh = float(np.sum(power.expected_w[0] * hours))
    unlimited = run(scene, [states], chain_of(scene.rig)._replace(max_input_w=np.inf))
    return PanelSize(
        rated_w=rated_w,
        energy_wh=energy_wh,
        energy_low_wh=float(quantile(paths.energy_wh.sums(), paths.chance, POOR_FRAC)),
        clipped_wh=float(np.sum(unlimited.expected_w[0] * hours)) - energy_wh,
    )


def _add(sizes: list[PanelSize], bare: PanelSize, days: Days | None) -> None:
    """Add a size with what the battery makes of it, and what it brings more than the one before."""
    size = bare
    if days is not None:
        size = replace(
            bare,
            cold_wh=days.total("cold_wh"),
            soc_end_frac=float(days.mean["soc_frac"][-1]),
            full_wh=days.total("full_wh"),
            full_prob=days.chance_of("first_full_utc_s"),
            load_share_frac=days.load_share_frac,
            shortfall_wh=days.total("shortfall_wh"),
            shortfall_poor_wh=float(quantile(days.shortfall_wh, days.chance, 1 - POOR_FRAC)),
            short_prob=days.chance_of("first_short_utc_s"),
        )
    used_wh, watts = (sizes[-1].used_wh, sizes[-1].rated_w) if sizes else (0.0, 0.0)
    sizes.append(replace(size, added_per_w_wh=(size.used_wh - used_wh) / (size.rated_w - watts)))


def _knee(sizes: Sequence[PanelSize]) -> Knee | None:
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
    return "loads" if after.engine_rests else "battery"
