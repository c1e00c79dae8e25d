"""Trees and hills to draw beneath routes."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from routesolar.cli.request import Request
from routesolar.files.map_pictures import read_relief
from routesolar.trip.ground import Ground, MapPicture
from routesolar.trip.segments import Segments


def with_hills(trees: MapPicture | None, drives: Sequence[tuple[Request, Segments]]) -> Ground:
    """Return the ground beneath drives on one map: these trees, and hills from the terrain given with any."""
    sources = dict.fromkeys(source for request, _ in drives for source in request.said.terrain or ())
    ground = Ground(trees=trees)
    if not sources:
        return ground
    places = (
        np.concatenate([segments.middle_latitude_deg for _, segments in drives]),
        np.concatenate([segments.middle_longitude_deg for _, segments in drives]),
    )
    return replace(ground, relief=read_relief(list(sources), *places))
