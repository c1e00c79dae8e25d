"""Where to park near a stop, and which way to face: expected energy of every spot over the stay."""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from routesolar.decisions.criterion import BestBy, Outcome, is_alike, outcomes_of, rank_of
from routesolar.decisions.shade_times import shade_times_utc_s
from routesolar.decisions.spot_energy import spot_energies
from routesolar.decisions.stay import Stay
from routesolar.errors import InputError, UsageError
from routesolar.model.clear_sky import sun_on
from routesolar.model.scene import warnings_of
from routesolar.model.shade import cast_shade
from routesolar.model.standing import stands_free
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.trip.arrays import BoolArray, FloatArray, lock_fields
from routesolar.trip.clock import iso_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Result
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain, values_at
from routesolar.wanted import share_of_work

HEADINGS_DEG = np.arange(0.0, 360.0, 10.0)
TREE_M = 2.0  # anything taller fills the place: a crown above it or a trunk in it
VEHICLE_M = 2.0  # around a spot that must be free
FINE_CELL_M = 5.0
SHADE_SHARE = 0.3  # of the time
INDIFFERENT_FRAC = 0.002  # of the energy: less between all headings is none


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One spot at its best heading, None where the heading does not matter.

    `first_shade_utc_s`, `last_shade_utc_s` are the first and last minute in which trees, buildings or hills
    hide the sun; None if never.
    """

    rank: int
    latitude_deg: float
    longitude_deg: float
    distance_m: float
    heading_deg: float | None
    energy_wh: float
    first_shade_utc_s: float | None
    last_shade_utc_s: float | None
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Parking(Result):
    """The spots around a stop, the best by `best_by` first; of those that differ by a trifle the nearest first.

    `here_wh` is what the stop itself brings facing as the vehicle arrives, and `here` what that comes to, None
    where it stands under trees.
    `by_tree` is False where trees go by cover, and so no shadow has its time.
    `occupied_latitude_deg` and `occupied_longitude_deg` are the places left out for trees, buildings or heights
    not known.
    """

    stay: Stay
    spots: tuple[Spot, ...]
    here_wh: float | None
    here: Outcome | None
    open_wh: float
    occupied_latitude_deg: FloatArray
    occupied_longitude_deg: FloatArray
    sky: str
    by_tree: bool = True
    best_by: BestBy = BestBy.ENERGY
    title: str = ""
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)
    road: Segments | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        occupied = np.shape(self.occupied_latitude_deg)
        lock_fields(self, dict.fromkeys(("occupied_latitude_deg", "occupied_longitude_deg"), occupied))

    @property
    def knows_buildings(self) -> bool:
        """Whether any building around the spots is known."""
        return any(drive.around.terrain.buildings is not None for drive in self.drives)


def find_parking(
    stay: Stay,
    places: Segments,
    rig: Rig,
    canopy: Canopy,
    terrain: Terrain,
    sky: Sky,
    best_by: BestBy = BestBy.ENERGY,
) -> Parking:
    """Return the places of `spots_around` ranked by what comes of the stay, each at its best heading.

    The battery begins the stay as the rig has it.

    `canopy` and `terrain` are along the places. Shade counts on the panels' way to sun and sky; the ground is
    taken as level.

    Raises:
        InputError: the canopy does not show single trees, or every place stands under one.
        UsageError: the stay sees no sun.
    """
    free = _free(canopy) & stands_free(places, canopy, terrain, VEHICLE_M)
    if not free.any():
        raise InputError(
            f"within {_distance_m(stay, places).max():.0f} m of {stay.name} every place is under trees or in "
            "buildings, or its height is not known; look farther with --within"
        )
    sun = sun_on(places)
    ahead = replace(canopy, lane_offset_m=np.zeros(canopy.count))
    with share_of_work(0.0, SHADE_SHARE):
        suns = sun.azimuth_deg, sun.apparent_elevation_deg
        shade = cast_shade(places, ahead, terrain, *suns, rig.roof_height_m)
    if not np.any(sun.apparent_elevation_deg > 0):
        raise UsageError(f"the stay at {stay.name} sees no sun; give a --depart or --for that reaches the day")
    headings_deg = np.append(HEADINGS_DEG, stay.heading_deg)
    with share_of_work(SHADE_SHARE, 1.0):
        found = spot_energies(stay, rig, shade, sky, headings_deg)
    steps = places.start_utc_s[:, :1].T, places.duration_s[:, :1].T
    outcomes, (here,) = (
        outcomes_of(places, steps, watts, found.air_c, rig, np.ones(watts.shape[1], dtype=bool))
        for watts in (found.best_w, found.here_w)
    )
    shaded_utc_s = shade_times_utc_s(places, ahead, terrain, shade.beam_transmittance_frac, rig.roof_height_m)
    bare = replace(terrain, buildings=None)  # places inside buildings are left out, not moved beside them
    return Parking(
        stay=stay,
        spots=_ranked(stay, places, found.energy_wh[:-1], free, shaded_utc_s, outcomes, best_by),
        here_wh=float(found.energy_wh[-1, 0]) if free[0] else None,
        here=here if free[0] else None,
        open_wh=found.open_wh,
        best_by=best_by,
        occupied_latitude_deg=places.latitude_deg[~free],
        occupied_longitude_deg=places.longitude_deg[~free],
        sky=sky.name,
        by_tree=not canopy.has_stands or (canopy.height_m is not None and canopy.cover_frac is None),
        warnings=warnings_of(places, canopy, bare, sky),
    )


def park_rows(result: Parking) -> list[dict[str, Any]]:
    """Return a mapping a spot, keyed and ordered as the file of rows has them."""
    zone = result.stay.time_zone
    return [
        {
            "rank": spot.rank,
            "latitude_deg": spot.latitude_deg,
            "longitude_deg": spot.longitude_deg,
            "distance_m": spot.distance_m,
            "heading_deg": spot.heading_deg,
            "energy_wh": spot.energy_wh,
            "first_shade": _local(spot.first_shade_utc_s, zone),
            "last_shade": _local(spot.last_shade_utc_s, zone),
            "taken_wh": spot.outcome.taken_wh,
            "soc_end_frac": spot.outcome.soc_end_frac,
            "lowest_soc_frac": spot.outcome.lowest_soc_frac,
            "shortfall_wh": spot.outcome.shortfall_wh,
        }
        for spot in result.spots
    ]


def park_dict(result: Parking) -> dict[str, Any]:
    """Return the result as result.json has it."""
    stay = result.stay
    return {
        "schema": "routesolar.park/1",
        "stop": stay.name,
        "start": iso_local(stay.start_utc_s, stay.time_zone),
        "end": iso_local(stay.end_utc_s, stay.time_zone),
        "sky": result.sky,
        "best_by": result.best_by.value,
        "here_wh": result.here_wh,
        "open_wh": result.open_wh,
        "rows": park_rows(result),
        "warnings": list(result.warnings),
    }


def _local(utc_s: float | None, zone: str) -> str | None:
    return None if utc_s is None else iso_local(utc_s, zone)


def _free(canopy: Canopy) -> BoolArray:
    """Return where heights let a vehicle stand, (n,): on known ground, nothing tall at it; anywhere without.

    Raises:
        InputError: the canopy does not show single trees.
    """
    heights, place = canopy.height_m, canopy.placement
    if heights is None or canopy.cover_frac is not None:
        return np.ones(canopy.count, dtype=bool)
    if place is None:
        raise InputError(
            "parking needs the height of every tree around the stop: give a raster of heights with cells of "
            f"{FINE_CELL_M:g} m or finer and no cover, with --canopy-height FILE"
        )
    if place.cell_m > FINE_CELL_M * 1.01:
        raise InputError(
            f"the heights around the stop have cells of {place.cell_m:.0f} m, too coarse to show single trees; "
            f"give a raster with cells of {FINE_CELL_M:g} m or finer, with --canopy-height FILE"
        )
    turn = np.radians(np.arange(0, 360, 45))
    around = VEHICLE_M * np.vstack([[0.0, 0.0], np.column_stack([np.sin(turn), np.cos(turn)])])
    moved = np.einsum("nij,kj->nki", place.cells_per_m, around)
    tall_m = values_at(heights, place.col[:, None] + moved[..., 0], place.row[:, None] + moved[..., 1])
    free: BoolArray = np.isnan(canopy.uniform_cover_frac) & np.all(tall_m <= TREE_M, axis=1)
    return free


def _ranked(
    stay: Stay,
    places: Segments,
    energy_wh: FloatArray,
    free: BoolArray,
    shaded_utc_s: tuple[FloatArray, FloatArray],
    outcomes: list[Outcome],
    best_by: BestBy,
) -> tuple[Spot, ...]:
    """Return the free places as spots, the best first."""
    best = energy_wh.argmax(axis=0)
    most_wh = np.round(energy_wh.max(axis=0), 9)  # rounding errors make no rank
    least_wh = energy_wh.min(axis=0)
    indifferent = most_wh - least_wh <= INDIFFERENT_FRAC * most_wh
    distance_m = _distance_m(stay, places)
    first, last = ([None if np.isnan(t) else float(t) for t in times] for times in shaded_utc_s)
    order = _best_first(np.flatnonzero(free).tolist(), outcomes, distance_m, best_by)
    spots = []
    for rank, i in enumerate(order, start=1):
        spots.append(
            Spot(
                rank=rank,
                latitude_deg=float(places.latitude_deg[i]),
                longitude_deg=float(places.longitude_deg[i]),
                distance_m=float(distance_m[i]),
                heading_deg=None if indifferent[i] else float(HEADINGS_DEG[best[i]]),
                energy_wh=float(most_wh[i]),
                first_shade_utc_s=first[i],
                last_shade_utc_s=last[i],
                outcome=outcomes[i],
            )
        )
    return tuple(spots)


def _best_first(
    places: list[int], outcomes: list[Outcome], distance_m: FloatArray, best_by: BestBy
) -> list[int]:
    """Return the places by rank; those as good as the best of the rest come together, the nearest first."""
    order: list[int] = []
    left = sorted(places, key=lambda i: rank_of(best_by, outcomes[i]))
    while left:
        equal = {i for i in left if is_alike(best_by, outcomes[left[0]], outcomes[i])}
        order += sorted(equal, key=lambda i: (float(distance_m[i]), rank_of(best_by, outcomes[i])))
        left = [i for i in left if i not in equal]
    return order


def _distance_m(stay: Stay, places: Segments) -> FloatArray:
    per_degree = metres_per_degree(stay.latitude_deg)
    north_m = (places.latitude_deg - stay.latitude_deg) * per_degree[0]
    east_m = wrap_longitude_deg(places.longitude_deg - stay.longitude_deg) * per_degree[1]
    distance: FloatArray = np.hypot(north_m, east_m)
    return distance
