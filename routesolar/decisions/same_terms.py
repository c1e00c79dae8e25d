"""What has to be the same for all routes of a comparison, and what is said where it is not."""

from collections.abc import Sequence

import numpy as np

from routesolar.errors import UsageError
from routesolar.physics.geodesy import distance_m, wrap_longitude_deg
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, WeatherSeries

_LIGHT = ("time_utc_s", "latitude_deg", "longitude_deg", "cloud_frac", "ghi_wm2", "dni_wm2", "dhi_wm2")
ONE_HAZE_M = 300_000.0  # judgement: within this of each other roads lie in the same air
_RIG_WORDS = {
    "panels": "panels",
    "roof_boxes": "boxes on the roof",
    "roof_height_m": "roof height",
    "albedo_frac": "albedo",
    "controller": "controller",
    "soiling_frac": "dirt",
    "mismatch_frac": "mismatch of panels",
    "wiring_frac": "wiring",
    "battery": "battery",
    "alternator": "alternator",
    "loads": "loads",
}


def one_sky(names: Sequence[str], skies: Sequence[Sky]) -> None:
    """Check that all routes are driven under the same sky; air and wind may differ.

    Raises:
        UsageError: they are not.
    """
    for name, sky in zip(names[1:], skies[1:], strict=True):
        if _clouds(sky) != _clouds(skies[0]) or not _same_light(sky.weather, skies[0].weather):
            said = [f"{name}: {sky.name}, {sky.forecast}" for name, sky in ((names[0], skies[0]), (name, sky))]
            raise UsageError(
                f"the routes are not driven under one sky ({'; '.join(said)}); give one for all with --sky or "
                "--weather, and --forecast"
            )


def _clouds(sky: Sky) -> tuple[object, ...]:
    return sky.name, sky.forecast, sky.spans, sky.weather is None, sky.index


def _same_light(one: WeatherSeries | None, other: WeatherSeries | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True) for name in _LIGHT)


def rig_differences(rigs: Sequence[Rig]) -> tuple[str, ...]:
    """Return in words what differs between the rigs' parts; their names may."""
    parts = [part for part in _RIG_WORDS if len({getattr(rig, part) for rig in rigs}) > 1]
    return tuple(dict.fromkeys(_RIG_WORDS[part] for part in parts))


def one_haze_at_deg(drives: Sequence[Segments]) -> tuple[float, float] | None:
    """Return the place (latitude, longitude) whose haze all routes are given: in the middle between theirs.

    None where routes lie farther apart than a day's haze reaches. The order of the drives does not matter.
    """
    halves = [drive.count // 2 for drive in drives]
    places = sorted(
        (float(drive.middle_latitude_deg[half]), float(drive.middle_longitude_deg[half]))
        for drive, half in zip(drives, halves, strict=True)
    )
    if any(distance_m(*one, *other) > ONE_HAZE_M for one in places for other in places):
        return None
    latitude_deg, longitude_deg = np.array(places).T
    east_deg = wrap_longitude_deg(longitude_deg - longitude_deg[0]).mean()
    return float(latitude_deg.mean()), float(wrap_longitude_deg(longitude_deg[0] + east_deg))
