"""The trees as they may be too: canopies at the nodes of their doubt."""

from dataclasses import replace

import numpy as np

from routesolar.model.shade import crowns_of_canopy
from routesolar.physics.unsure_trees import tree_nodes
from routesolar.trip.arrays import FloatArray
from routesolar.trip.surroundings import Canopy


def nodes_of(canopy: Canopy) -> FloatArray:
    """Return the nodes of physics.unsure_trees for a canopy, (k, 3); none where no tree is in doubt."""
    return tree_nodes((False, False, False) if canopy.is_open else canopy.doubt.causes)


def canopy_at(canopy: Canopy, node: FloatArray) -> Canopy:
    """Return the canopy with width, cover and crowns so many standard deviations above what is stated, (3,).

    The width is log-normal, so that it stays above zero; covers and crowns stay within 0 to 1.
    """
    doubt = canopy.doubt
    varied = canopy.varied(
        width_factor=np.exp(doubt.road_width_sd_frac * node[0]),
        cover_shift=doubt.cover_sd_frac * node[1],
        raster_cover_shift=float(doubt.raster_cover_sd_frac * node[1]),
    )
    crowns = crowns_of_canopy(canopy) + doubt.crown_transmittance_sd_frac * node[2]
    return replace(varied, crown_transmittance_frac=np.clip(crowns, 0.0, 1.0))
