"""What pages draw of drives, computed only for them."""

from collections.abc import Sequence

import numpy as np

from routesolar.files.map_pictures import read_relief
from routesolar.model.sweeping import departure_watts
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.drawable import Drawable
from routesolar.trip.ground import Ground, MapPicture, Outlines


def watts_of(drive: Drawable) -> DepartureWatts:
    """Return the watts along a drive's departures."""
    if drive.watts is not None:
        return drive.watts
    return departure_watts(drive.segments, drive.rig, drive.around.canopy, drive.around.terrain, drive.sky)


def ground_under(drives: Sequence[Drawable]) -> Ground:
    """Return what lies beneath drives on a map: the trees that cover the most, hills and outlines of all."""
    # Only maps need the libraries that read outlines.
    from routesolar.files.outlines import read_outlines

    pictures = [drive.around.picture for drive in drives if drive.around.picture is not None]
    hills = dict.fromkeys(source for drive in drives for source in drive.around.hills)
    places = (
        np.concatenate([drive.segments.middle_latitude_deg for drive in drives]),
        np.concatenate([drive.segments.middle_longitude_deg for drive in drives]),
    )
    # Real towns would be out of place in a land that exists nowhere.
    invented = any(file.invented for drive in drives for file in drive.segments.files)
    outlines = Outlines() if invented else read_outlines(*places)
    for drive in drives:
        outlines = drive.around.drawing.over(outlines)
    return Ground(
        trees=max(pictures, key=_degrees2, default=None),
        relief=read_relief(list(hills), *places) if hills else None,
        outlines=outlines,
    )


def _degrees2(picture: MapPicture) -> float:
    return (picture.north_deg - picture.south_deg) * (picture.east_deg - picture.west_deg)
