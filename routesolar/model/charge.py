"""The battery along one drive, on the expected day and on the poor one."""

from dataclasses import replace

import numpy as np

from routesolar.model.battery import Ledger, leg_sums, run_ledger
from routesolar.model.sums import hour_results
from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest import Charge, Harvest, LegResult
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import SkyStates


def charge_along(segments: Segments, rig: Rig, result: Harvest, states: SkyStates) -> tuple[Ledger, Ledger]:
    """Return the ledger of the expected day and that of the poor one.

    On the poor day (nine in ten are better) every watt of the sun is scaled so that the trip brings its
    10th percentile.
    """
    mean, p10 = result.totals.energy_wh, result.totals.energy_p10_wh
    poor = p10 / mean if p10 is not None and mean > 0 else 0.0
    return tuple(  # type: ignore[return-value]
        run_ledger(
            segments.start_utc_s,
            segments.duration_s,
            segments.stopped,
            result.power_w[None] * share,
            states.air_c,
            rig,
            segments.time_zone,
        )
        for share in (1.0, poor)
    )


def with_charge(result: Harvest, ledgers: tuple[Ledger, Ledger], reserve_soc_frac: float) -> Harvest:
    """Return the harvest with the battery in legs, hours, totals and losses."""
    ledger, poor = ledgers
    segments = result.segments
    sums = leg_sums(ledger, segments.leg)
    legs = tuple(
        replace(
            leg,
            alternator_wh=float(sums.alternator_wh[0, index]),
            load_wh=float(sums.load_wh[0, index]),
            soc_start_frac=float(sums.soc_start_frac[0, index]),
            soc_end_frac=float(sums.soc_end_frac[0, index]),
        )
        for index, leg in enumerate(result.legs)
    )
    curtailed_wh = float(ledger.curtailed_wh.sum())
    return replace(
        result,
        legs=legs,
        totals=_totals(result.totals, ledger),
        hours=hour_results(segments, result.energy_wh, ledger.load_wh[0]),
        losses_wh={**result.losses_wh, "battery_full": curtailed_wh},
        battery_wh=(result.battery_wh or 0.0) - curtailed_wh,
        charge=_charge(segments, ledger, poor, reserve_soc_frac),
    )


def _totals(totals: LegResult, ledger: Ledger) -> LegResult:
    return replace(
        totals,
        alternator_wh=float(ledger.alternator_wh.sum()),
        load_wh=float(ledger.load_wh.sum()),
        soc_start_frac=float(ledger.start_soc_frac),
        soc_end_frac=float(ledger.soc_frac[0, -1]),
    )


def _charge(segments: Segments, ledger: Ledger, poor: Ledger, reserve_soc_frac: float) -> Charge:
    """Return the battery's course and its answers; what never happened or has no meaning is None."""
    hours = segments.duration_s[0] / 3600
    running = np.where(hours > 0, hours, 1.0)
    return Charge(
        soc_frac=ledger.soc_frac[0],
        soc_p10_frac=poor.soc_frac[0],
        alternator_w=ledger.alternator_wh[0] / running,
        load_w=ledger.load_wh[0] / running,
        curtailed_wh=float(ledger.curtailed_wh.sum()),
        shortfall_wh=float(ledger.shortfall_wh.sum()),
        first_full_utc_s=_defined(ledger.first_full_utc_s),
        first_reserve_utc_s=_defined(ledger.first_reserve_utc_s),
        lowest_soc_frac=float(ledger.lowest_soc_frac[0]),
        lowest_utc_s=float(ledger.lowest_utc_s[0]),
        load_share_frac=_defined(ledger.load_share_frac),
        engine_hours=_defined(ledger.engine_hours),
        shortfall_p10_wh=float(poor.shortfall_wh.sum()),
        lowest_soc_p10_frac=float(poor.lowest_soc_frac[0]),
        reserve_soc_frac=reserve_soc_frac,
    )


def _defined(values: FloatArray) -> float | None:
    """Return the one departure's value, or None for NaN."""
    return None if np.isnan(values[0]) else float(values[0])
