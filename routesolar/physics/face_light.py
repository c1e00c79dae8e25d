"""What one face of a panel makes of the light of one sky: behind the shade, behind the glass, and of use."""

from typing import NamedTuple

from routesolar.physics.compiled import inlined
from routesolar.physics.kernel_arrays import Chain
from routesolar.physics.sky import LOWEST_COS_ZENITH, hay_davies


class Lit(NamedTuple):
    """W/m2 on a face: what makes power with the sun out and hidden, and the means that heat it and meet it."""

    unobscured_wm2: float
    obscured_wm2: float
    heat_wm2: float
    plane_wm2: float


class View(NamedTuple):
    """What one face makes of one sun, the same for every sky."""

    cos_incidence: float
    beam_modifier: float
    sin_elevation: float
    per_level: float  # what a beam gives the face over what it gives the level
    extra_wm2: float
    cos_tilt: float
    beam_frac: float
    sky_frac: float
    around_sun_frac: float
    clear_sky_frac: float
    sky_modifier: float
    ground_modifier: float
    even_beam_frac: float
    box_beam_frac: float
    even_dome_frac: float


class Diffuse(NamedTuple):
    """Diffuse W/m2 on the level; its shares that come from around the sun, and as a cloudless sky's does."""

    level_wm2: float
    around_sun_share: float
    clear_share: float


@inlined
def per_level(cos_incidence: float, sin_elevation: float) -> float:
    """Return what a beam gives a face over what it gives the level, in a low sun that of some 1 deg."""
    return cos_incidence / max(sin_elevation, LOWEST_COS_ZENITH)


@inlined
def plane_of_array(
    view: View, dni_wm2: float, diffuse: Diffuse, albedo_frac: float
) -> tuple[float, float, float, float]:
    """Return beam, circumsolar, isotropic and ground irradiance (W/m2) on a shaded plane.

    Hay & Davies (1980): a share of the diffuse, `sky.hay_davies`, comes from around the sun, the rest from the
    whole dome. That says how much an open plane gets. Shade weighs it by where it comes from: what is
    as in a cloudless sky by that sky's radiance (clear_radiance.py), the rest evenly. The ground is lit by
    what the shade lets through.
    """
    dhi_wm2, around_sun = diffuse.level_wm2, diffuse.around_sun_share
    sky_frac = view.sky_frac + diffuse.clear_share * (view.clear_sky_frac - view.sky_frac)
    beam = dni_wm2 * view.cos_incidence * view.beam_frac
    circumsolar = dhi_wm2 * around_sun * view.per_level * view.around_sun_frac
    isotropic = dhi_wm2 * (1.0 - around_sun) * 0.5 * (1.0 + view.cos_tilt) * sky_frac
    level = dni_wm2 * view.sin_elevation * view.beam_frac + dhi_wm2 * sky_frac
    return beam, circumsolar, isotropic, level * albedo_frac * 0.5 * (1.0 - view.cos_tilt)


@inlined
def _light(view: View, dni_wm2: float, diffuse: Diffuse, chain: Chain) -> tuple[float, float, float]:
    """Return irradiance on a face (W/m2) in one sky state: behind the shade, behind the glass, and of use.

    What uneven light costs makes no power but still warms the cells. Crowns make the beam uneven; the wide
    light around the sun they only dim.
    """
    beam, circumsolar, isotropic, ground = plane_of_array(view, dni_wm2, diffuse, chain.albedo_frac)
    plane = beam + circumsolar + isotropic + ground
    r = chain.reflection_weight
    beam *= 1.0 - r * (1.0 - view.beam_modifier)
    circumsolar *= 1.0 - r * (1.0 - view.beam_modifier)
    isotropic *= 1.0 - r * (1.0 - view.sky_modifier)
    ground *= 1.0 - r * (1.0 - view.ground_modifier)
    entered = beam + circumsolar + isotropic + ground
    lost = beam * (1.0 - view.even_beam_frac) + circumsolar * (1.0 - view.box_beam_frac)
    lost += isotropic * (1.0 - view.even_dome_frac)
    return plane, entered, entered - chain.uneven_weight * lost


@inlined
def both_states(
    view: View, ghi_wm2: float, dni_wm2: float, cloud: tuple[float, float, float, float], chain: Chain
) -> Lit:
    """Return what a face gets of the two sky states, from clear ghi and dni; diffuse closes the global.

    With the sun out as much diffuse light as a cloudless sky gives comes as from it, though no larger a share
    than is left of the beam; what clouds add comes evenly (judgement).
    """
    beam = cloud[2] * dni_wm2
    diffuse = max(cloud[1] * ghi_wm2 - beam * view.sin_elevation, 0.0)
    clear = max(ghi_wm2 - dni_wm2 * view.sin_elevation, 0.0)
    clear_share = min(cloud[2], 1.0, clear / diffuse) if diffuse > 0.0 else 0.0
    bright = Diffuse(diffuse, hay_davies(beam, view.extra_wm2), clear_share)
    plane_out, heat_out, use_out = _light(view, beam, bright, chain)
    plane_hidden, heat_hidden, use_hidden = _light(view, 0.0, Diffuse(cloud[3] * ghi_wm2, 0.0, 0.0), chain)
    out, hidden = cloud[0], 1.0 - cloud[0]
    return Lit(
        use_out, use_hidden, out * heat_out + hidden * heat_hidden, out * plane_out + hidden * plane_hidden
    )
