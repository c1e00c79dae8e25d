"""A day with stops, in sentences: driving against standing, the engine, and a panel set out."""

from routesolar.decisions.transit import transit_day
from routesolar.report.units import energy
from routesolar.report.words_when import transit_sentences
from routesolar.trip.harvest_report import HarvestReport


def day_sentences(report: HarvestReport) -> tuple[str, ...]:
    """Return what a drive with stops answers beyond its energy; none for a drive without stops."""
    harvest = report.harvest
    if not harvest.segments.stopped.any():
        return ()
    return (*transit_sentences(transit_day(harvest, report.basis.rig)), *_engine(report), *_set_out(report))


def _engine(report: HarvestReport) -> tuple[str, ...]:
    given_wh, used_wh = report.harvest.totals.alternator_wh, report.harvest.totals.load_wh
    if not given_wh or used_wh is None:
        return ()
    return (f"The engine charges {energy(given_wh)} while driving; the loads use {energy(used_wh)}.",)


def _set_out(report: HarvestReport) -> tuple[str, ...]:
    loose = report.harvest.set_out
    if loose is None or loose.added_wh < 0.5:
        return ()
    return (
        f"A portable {loose.rated_w:g} W panel, set out at the stops and turned to the sun every hour, would "
        f"add {energy(loose.added_wh)}.",
    )
