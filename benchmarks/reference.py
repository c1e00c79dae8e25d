"""The whole chain a second time: pvlib's own functions on flattened arrays of departures x segments.

It shares with routesolar only the inputs: the drive, the shade, the states of the sky, the turbidity.
Everything else is pvlib 0.16 or a line of numpy written here.
"""

from collections.abc import Sequence
from functools import cache, partial

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from routesolar.physics.sky import linke_turbidity
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import SkyStates

Array = NDArray[np.float64]
U0, U1 = 25.0, 6.84  # Faiman (2008) with an air gap
GLASS = {"n": 1.526, "K": 4.0, "L": 0.002}


# A third of a panel of 1.30 x 0.80 m under crowns of a radius of 3.4 m: perimeter / (pi r) + area / (pi r^2).
UNEVEN = 2 * (1.30 + 0.80 / 3) / (np.pi * 3.4) + 1.30 * 0.80 / 3 / (np.pi * 3.4**2)


def energies_wh(
    segments: Segments,
    rig: Rig,
    beam_frac: Array,
    views: tuple[Array, Array],
    skies: Sequence[SkyStates],
) -> Array:
    """Return energy (s, d) of level air-gapped panels behind the given shade; no controller limit.

    `views` are what is left of even light, (n,), and of a cloudless sky's, (d, n).
    """
    d, n = segments.duration_s.shape
    sun = _sun(segments)
    extra = pvlib.irradiance.get_extra_radiation(
        pd.to_datetime(segments.middle_utc_s.ravel(), unit="s", utc=True), solar_constant=1361.0, method="nrel"
    )
    extra = np.asarray(extra)
    clear = _clear(segments, sun, extra)
    tilt, facing = _plane(segments, rig, d)
    incidence = pvlib.irradiance.aoi(tilt, facing, sun["zenith"], sun["azimuth"])
    modifiers = (
        np.where(incidence < 90, pvlib.iam.physical(incidence, **GLASS), 0.0),
        *(np.interp(tilt, *table) for table in _diffuse_tables()),
    )
    even, cloudless = np.tile(views[0], (d, 1)).ravel(), views[1].ravel()
    coefficient = rig.panels[0].temperature_coefficient_pct_per_c
    totals = np.empty((len(skies), d))
    for s, sky in enumerate(skies):
        prob, out, beam_out, hidden = (
            np.broadcast_to(field, (d, n)).ravel()
            for field in (sky.sun_out_prob, sky.unobscured_index, sky.unobscured_beam_index, sky.obscured_index)
        )
        entered = []
        for share, beam in ((out, beam_out), (hidden, np.zeros(d * n))):
            ghi, dni = share * clear["ghi"], beam * clear["dni"]
            dhi = ghi - dni * np.cos(np.radians(sun["zenith"]))
            plane = (tilt, facing, incidence)
            clear_dhi = clear["ghi"] - clear["dni"] * np.cos(np.radians(sun["zenith"]))
            as_clear = np.minimum(np.minimum(beam, 1.0), clear_dhi / np.maximum(dhi, 1e-9))
            view = even + as_clear * (cloudless - even), cloudless
            entered.append(_entered((ghi, dni, dhi), extra, sun, plane, modifiers, beam_frac.ravel(), view))
        mean = (prob * entered[0][0] + (1 - prob) * entered[1][0]).reshape(d, n)
        cell = _cell(segments, sky, mean).ravel()
        watts = sum(
            weight * rig.rated_w * _of_rating(light) * (1 + coefficient / 100 * (cell - 25))
            for weight, (_, light) in zip((prob, 1 - prob), entered, strict=True)
        )
        kept = (1 - rig.soiling_frac) * (1 - rig.wiring_frac) * rig.controller.efficiency_frac
        totals[s] = np.sum(watts.reshape(d, n) * segments.duration_s / 3600, axis=1) * kept
    return totals


def _of_rating(light: Array) -> Array:
    """Return the power at 25 C as a share of the rating, in weak light less than the light's share."""
    bright = np.maximum(light, 1e-9)
    power = pvlib.pvarray.huld(bright, 25.0, 1.0, cell_type="csi", k_version="pvgis6")
    return np.where(light > 0, np.maximum(power, 0.0), 0.0)


def _sun(segments: Segments) -> dict[str, Array]:
    shape = segments.duration_s.shape
    latitude, longitude, height = (
        np.broadcast_to(values, shape).ravel()
        for values in (
            segments.middle_latitude_deg,
            segments.middle_longitude_deg,
            segments.middle_elevation_m,
        )
    )
    pressure = _pressure_pa(height) / 100
    zenith, _, _, _, azimuth, _ = pvlib.spa.solar_position_numpy(
        segments.middle_utc_s.ravel(), latitude, longitude, height, pressure, 12.0, 67.0, 0.5667, 1
    )
    return {"zenith": zenith, "azimuth": azimuth, "height": height}


def _clear(segments: Segments, sun: dict[str, Array], extra: Array) -> dict[str, Array]:
    turbidity = linke_turbidity(
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
        segments.middle_utc_s,
    ).ravel()
    relative = pvlib.atmosphere.get_relative_airmass(sun["zenith"], "kastenyoung1989")
    absolute = pvlib.atmosphere.get_absolute_airmass(relative, _pressure_pa(sun["height"]))
    with np.errstate(divide="ignore"):  # pvlib divides by the cosine of a sun at or below the horizon
        clear = pvlib.clearsky.ineichen(sun["zenith"], absolute, turbidity, sun["height"], extra)
    pure = pvlib.clearsky.bird(
        sun["zenith"], relative, 0.0, 0.0, 1.0, 0.3, _pressure_pa(sun["height"]), extra, albedo=0.0
    )
    level_beam = clear["dni"] * np.cos(np.radians(sun["zenith"]))
    least = (level_beam + np.fmax(pure["dhi"], 0.0)) / (1 - 0.2 * 0.0685)
    clear["ghi"] = np.maximum(clear["ghi"], least)
    return {name: np.nan_to_num(np.where(sun["zenith"] < 90, clear[name], 0.0)) for name in ("ghi", "dni")}


def _pressure_pa(height_m: Array) -> Array:
    """Return the standard atmosphere's pressure (ISO 2533); pvlib's own differs by 1 part in 100,000."""
    return 101_325.0 * (1 - 0.0065 * height_m / 288.15) ** (9.80665 * 0.0289644 / (8.31432 * 0.0065))


def _plane(segments: Segments, rig: Rig, d: int) -> tuple[Array, Array]:
    """Return tilt and azimuth of a level mount: it leans against the slope."""
    assert all(panel.tilt_deg == 0 and panel.curvature_deg == 0 for panel in rig.panels)
    pitch = np.degrees(np.arctan(segments.grade_frac))
    facing = np.where(pitch > 0, segments.heading_deg + 180, segments.heading_deg) % 360
    return np.tile(np.abs(pitch), d), np.tile(facing, d)


def _entered(irradiance, extra, sun, plane, modifiers, beam_frac, view):  # type: ignore[no-untyped-def]
    """Return what enters the cells and what of it makes power: Hay-Davies in parts, shaded, behind glass."""
    ghi, dni, dhi = irradiance
    parts = pvlib.irradiance.haydavies(
        *plane[:2], dhi, dni, extra, sun["zenith"], sun["azimuth"], return_components=True
    )
    beam = dni * np.maximum(np.cos(np.radians(plane[2])), 0.0)
    bright = np.nan_to_num(beam_frac)
    level = dni * np.cos(np.radians(sun["zenith"])) * bright + dhi * view[0]
    ground = level * 0.2 * 0.5 * (1 - np.cos(np.radians(plane[0])))
    light = (
        (beam * bright + parts["poa_circumsolar"] * view[1]) * modifiers[0]
        + parts["poa_isotropic"] * view[0] * modifiers[1]
        + ground * modifiers[2]
    )
    # A block of cells is darkened by every crown that touches it.
    uneven = beam * bright * modifiers[0] * (1 - bright**UNEVEN)
    return np.where(ghi > 0, light, 0.0), np.where(ghi > 0, light - uneven, 0.0)


@cache
def _diffuse_tables() -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Return pvlib's diffuse modifiers over tilt, in more steps than its default (error 3e-5)."""
    tilts = np.linspace(0.0, 5.0, 26) ** 2  # closer for the slopes of roads
    glass = partial(pvlib.iam.physical, **GLASS)
    sky, ground = (
        np.array([pvlib.iam.marion_integrate(glass, tilt, part, num=720) for tilt in tilts])
        for part in ("sky", "ground")
    )
    return (tilts, sky), (tilts, np.nan_to_num(ground))


def _cell(segments: Segments, sky: SkyStates, light: Array) -> Array:
    """Return the lagged cell temperature, the mean over each segment."""
    wind = 0.6 * np.hypot(segments.speed_mps, np.asarray(sky.wind_mps))
    steady = pvlib.temperature.faiman(light, sky.air_c, np.minimum(wind, 9.0), U0, U1)
    steps = segments.duration_s / np.where(segments.speed_mps > 0, 180.0, 450.0)
    left = np.exp(-steps)
    cell, mean = steady[:, 0].copy(), np.empty_like(steady)
    mean[:, 0] = steady[:, 0]
    for j in range(1, steady.shape[1]):
        gap = cell - steady[:, j]
        mean[:, j] = steady[:, j] + gap * (1 - left[:, j]) / steps[:, j]
        cell = steady[:, j] + gap * left[:, j]
    return mean
