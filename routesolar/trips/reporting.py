"""A harvest with all that presents it, and the units that answers are shown in."""

from dataclasses import replace

from routesolar.errors import UsageError
from routesolar.report.basis_words import rests_on
from routesolar.report.units import IMPERIAL, METRIC, Units
from routesolar.trip.basis import basis_of
from routesolar.trip.harvest import Harvest
from routesolar.trip.harvest_report import HarvestReport
from routesolar.version import SOFTWARE


def units_named(name: str) -> Units:
    """Return the units to show; results stay metric.

    Raises:
        UsageError: the name is neither "metric" nor "imperial".
    """
    known = {"metric": METRIC, "imperial": IMPERIAL}
    if name not in known:
        raise UsageError(f'units is "{name}"; give one of {", ".join(known)}')
    return known[name]


def harvest_report(harvest: Harvest) -> HarvestReport:
    """Return a harvest with all that presents it.

    Raises:
        UsageError: what it was computed from was not kept; rs.harvest keeps it.
    """
    drive = harvest.drive
    if drive is None:
        raise UsageError("this harvest does not know its rig and trees; make it with rs.harvest to present it")
    basis = replace(basis_of(drive), air_c=harvest.air_c, notes=harvest.notes)
    return HarvestReport(harvest=harvest, basis=basis, software=SOFTWARE, rests_on=rests_on(basis, SOFTWARE))
