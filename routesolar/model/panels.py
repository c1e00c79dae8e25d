"""The rig's panels as flat faces that turn and climb with the vehicle."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from routesolar.physics.aiming import aimed_normals
from routesolar.physics.attitude import panel_normal, tilt_and_azimuth_deg
from routesolar.physics.bent_panel import Strip, bent_strips
from routesolar.physics.cells import CELLS, heat_loss
from routesolar.physics.glass import diffuse_modifiers
from routesolar.physics.kernel_arrays import Faces
from routesolar.physics.partial_shade import hard_shade_frac
from routesolar.physics.roof_boxes import box_dome_frac, box_shadows, plate
from routesolar.physics.sun import SunPosition
from routesolar.trip.arrays import FloatArray
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments


class _Face(NamedTuple):
    panel: Panel
    strip: Strip


def faces_of(segments: Segments, rig: Rig, sun: SunPosition) -> Faces:
    """Return the faces of every panel along the drive; a bent panel is several faces side by side."""
    faces = [
        _Face(panel, strip)
        for panel in rig.panels
        for strip in bent_strips(panel.tilt_deg, panel.facing_deg, panel.curvature_deg)
    ]
    normals = _joined([_normal(face, segments, sun) for face in faces])
    tilt_deg, _ = tilt_and_azimuth_deg(normals)
    sky_modifier, ground_modifier = diffuse_modifiers(tilt_deg)
    beam, dome = zip(*(_behind_boxes(face, segments, rig, sun) for face in faces), strict=True)
    return Faces(
        normal=normals,
        rated_w=np.stack([_rated_w(face, segments) for face in faces]),
        sky_modifier=sky_modifier,
        ground_modifier=ground_modifier,
        coefficient_pct_per_c=np.array([f.panel.temperature_coefficient_pct_per_c for f in faces]),
        cooling=np.array([heat_loss(face.panel.mounting) for face in faces]),
        weak_light=np.array([CELLS[face.panel.cells] for face in faces]),
        age_frac=np.array([face.panel.age_loss_frac for face in faces]),
        bypass_blocks=np.array([face.panel.bypass_blocks for face in faces]),
        box_beam_frac=_joined(list(beam)),
        box_dome_frac=np.array(dome),
    )


def _normal(face: _Face, segments: Segments, sun: SunPosition) -> FloatArray:
    """Return a face's normal, (1, n, 3), or (d, n, 3) where a person turns it to the sun."""
    if face.panel.aim == "sun":
        return aimed_normals(
            sun.azimuth_deg,
            sun.apparent_elevation_deg,
            segments.middle_utc_s,
            np.array(segments.stopped),
            face.panel.aim_every_s,
        )
    return panel_normal(
        face.strip.tilt_deg, face.strip.facing_deg, 0.0, segments.grade_frac, segments.heading_deg
    )[None]


def _rated_w(face: _Face, segments: Segments) -> FloatArray:
    """Return the watts of a face in use on each segment, (n,)."""
    rated_w = face.panel.rated_w * face.strip.area_frac
    return np.where(segments.stopped | (face.panel.use == "always"), rated_w, 0.0)


def _behind_boxes(face: _Face, segments: Segments, rig: Rig, sun: SunPosition) -> tuple[FloatArray, float]:
    """Return the shares of beam (1 or d, 1 or n) and dome that boxes on the roof leave a face."""
    panel = face.panel
    if not rig.roof_boxes or panel.length_m is None or panel.width_m is None or panel.aim == "sun":
        return np.ones((1, 1)), 1.0
    surface = plate(
        (panel.length_m, panel.width_m * face.strip.area_frac),
        (
            panel.forward_m,
            panel.right_m + face.strip.across_frac * panel.width_m,
            panel.above_roof_m,
        ),
        face.strip.tilt_deg,
        face.strip.facing_deg,
        panel.bypass_blocks,
    )
    boxes = np.array(list(_box_bounds(rig)))
    share, touched = box_shadows(
        surface,
        boxes,
        sun.azimuth_deg,
        sun.apparent_elevation_deg,
        np.array(segments.heading_deg),
        np.array(segments.grade_frac),
    )
    left = np.ones_like(share)
    for place in np.ndindex(share.shape):
        if share[place] > 0:
            left[place] = hard_shade_frac(float(share[place]), int(touched[place]), panel.bypass_blocks)
    return left, float(box_dome_frac(surface, boxes))


def _box_bounds(rig: Rig) -> Iterator[tuple[float, ...]]:
    """Yield each box's near and far side forward, right and up from the roof's middle, m."""
    for box in rig.roof_boxes:
        yield (
            box.forward_m - box.length_m / 2,
            box.forward_m + box.length_m / 2,
            box.right_m - box.width_m / 2,
            box.right_m + box.width_m / 2,
            0.0,
            box.height_m,
        )


def _joined(parts: list[FloatArray]) -> FloatArray:
    """Return arrays stacked along a new first axis; axes of length 1 are spread where another is longer."""
    shape = np.broadcast_shapes(*(part.shape for part in parts))
    return np.stack([np.broadcast_to(part, shape) for part in parts])
