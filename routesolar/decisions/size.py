"""How many watts of panel: what each size brings, what of the loads it carries, where more stops helping."""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from routesolar.decisions.written import defined
from routesolar.errors import UsageError
from routesolar.model.battery import Ledger, run_ledger
from routesolar.model.scene import Scene, chain_of, run, set_scene, warnings_of
from routesolar.model.sky import sky_states
from routesolar.trip.arrays import FloatArray
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain

KNEE_FRAC = 0.5  # an added watt that brings less than this share of a watt of the smallest size helps little
CARRIED_FRAC = 0.995


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSize:
    """What one size brings; None is undefined, as all of the battery's figures without one.

    `clipped_wh` is lost at the controller's limit, `curtailed_wh` finds no room in the battery.
    `added_per_w_wh` is what each watt more than the next smaller size brings into loads and battery.
    """

    rated_w: float
    energy_wh: float
    clipped_wh: float
    curtailed_wh: float
    load_share_frac: float | None
    alternator_needed_wh: float | None
    added_per_w_wh: float

    @property
    def used_wh(self) -> float:
        """What reaches loads or battery, in Wh."""
        return self.energy_wh - self.curtailed_wh


@dataclass(frozen=True, slots=True, kw_only=True)
class Knee:
    """The size beyond which more watts help little, and what stops them: "controller", "battery" or "loads".

    "loads" is a full battery with every load carried.
    """

    rated_w: float
    cause: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """Sizes from small to large under one sky; `knee` is None where every watt still helps."""

    sizes: tuple[PanelSize, ...]
    knee: Knee | None
    load_wh: float | None
    sky: str
    warnings: tuple[str, ...] = ()


def size_panels(
    segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, sky: Sky, rated_w: list[float]
) -> Sizing:
    """Return what the rig's panels would give at each rating, all its panels scaled together.

    The engine is left out: the loads live from sun and battery, and `alternator_needed_wh` is all it must give.

    Raises:
        UsageError: no rating is given or one is not above zero.
        ValueError: `segments` holds more than one departure.
    """
    if len(segments.departure_utc_s) != 1:
        raise ValueError("panels are sized for one departure")
    if not rated_w or not all(0 < watts < np.inf for watts in rated_w):
        given = ", ".join(f"{watts:g}" for watts in rated_w) or "no size"
        raise UsageError(f"{given} to compute; give watts above zero, such as --rated 100W,200W,400W")
    scene = set_scene(segments, rig, canopy, terrain)
    states = sky_states(sky, segments, scene.sun.apparent_elevation_deg)
    found: list[PanelSize] = []
    load_wh = None
    for watts in sorted(set(rated_w)):
        power_w = _power_w(scene, states, watts)
        ledger = None if rig.battery is None else _without_engine(segments, rig, power_w, states)
        before = found[-1] if found else None
        found.append(_size(scene, states, watts, power_w, ledger, before))
        load_wh = None if ledger is None else float(ledger.load_wh.sum())
    return Sizing(
        sizes=tuple(found),
        knee=_knee(found),
        load_wh=load_wh,
        sky=sky.name,
        warnings=warnings_of(segments, canopy, terrain, sky),
    )


def size_rows(result: Sizing) -> list[dict[str, Any]]:
    """Return a mapping a size, keyed and ordered as the file of rows has them."""
    keys = ("rated_w", "energy_wh", "load_share_frac", "alternator_needed_wh")
    return [{key: getattr(size, key) for key in keys} for size in result.sizes]


def size_dict(result: Sizing) -> dict[str, Any]:
    """Return the result as result.json has it."""
    knee = result.knee
    return {
        "schema": "routesolar.size/1",
        "sky": result.sky,
        "rows": size_rows(result),
        "load_wh": result.load_wh,
        "knee": None if knee is None else {"rated_w": knee.rated_w, "cause": knee.cause},
        "warnings": list(result.warnings),
    }


def _power_w(scene: Scene, states: SkyStates, rated_w: float, limit_w: float | None = None) -> FloatArray:
    """Return expected watts (1, n) with the panels scaled to a rating, at another limit if one is given."""
    rig = scene.rig
    faces = scene.faces._replace(rated_w=scene.faces.rated_w * (rated_w / rig.rated_w))
    chain = chain_of(rig)
    if rig.input_limit_w == np.inf:
        chain = chain._replace(full_load_w=rated_w)
    if limit_w is not None:
        chain = chain._replace(max_input_w=limit_w)
    power_w: FloatArray = run(replace(scene, faces=faces), [states], chain).expected_w[0]
    return power_w


def _without_engine(segments: Segments, rig: Rig, power_w: FloatArray, states: SkyStates) -> Ledger:
    return run_ledger(
        segments.start_utc_s,
        segments.duration_s,
        segments.stopped,
        power_w,
        states.air_c,
        replace(rig, alternator=None),
        segments.time_zone,
    )


def _size(
    scene: Scene,
    states: SkyStates,
    rated_w: float,
    power_w: FloatArray,
    ledger: Ledger | None,
    before: PanelSize | None,
) -> PanelSize:
    hours = scene.segments.duration_s / 3600
    energy_wh = float(np.sum(power_w * hours))
    unlimited_wh = float(np.sum(_power_w(scene, states, rated_w, np.inf) * hours))
    curtailed_wh = 0.0 if ledger is None else float(ledger.curtailed_wh.sum())
    used_before_wh, watts_before = (0.0, 0.0) if before is None else (before.used_wh, before.rated_w)
    return PanelSize(
        rated_w=rated_w,
        energy_wh=energy_wh,
        clipped_wh=unlimited_wh - energy_wh,
        curtailed_wh=curtailed_wh,
        load_share_frac=None if ledger is None else defined(float(ledger.load_share_frac[0])),
        alternator_needed_wh=None if ledger is None else float(ledger.alternator_needed_wh[0]),
        added_per_w_wh=(energy_wh - curtailed_wh - used_before_wh) / (rated_w - watts_before),
    )


def _knee(sizes: list[PanelSize]) -> Knee | None:
    """Return the first size after which an added watt brings less than half of one of the smallest size."""
    for before, after in pairwise(sizes):
        if after.added_per_w_wh < KNEE_FRAC * sizes[0].added_per_w_wh:
            clipped_wh = after.clipped_wh - before.clipped_wh
            if clipped_wh >= after.curtailed_wh - before.curtailed_wh:
                return Knee(rated_w=before.rated_w, cause="controller")
            carried = after.load_share_frac is not None and after.load_share_frac >= CARRIED_FRAC
            return Knee(rated_w=before.rated_w, cause="loads" if carried else "battery")
    return None
