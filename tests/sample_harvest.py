"""A plausible harvest made without the simulation, for tests of what is written about one.

Only the shapes and the bookkeeping are meant seriously (legs add up, night is zero, undefined is NaN);
sun and watts follow simple curves.
"""

from dataclasses import replace

import numpy as np

from routesolar.physics.hillshade import FLAT_FRAC
from routesolar.report.basis_words import rests_on
from routesolar.trip.basis import Basis
from routesolar.trip.ground import Ground, MapPicture, Outlines, Town
from routesolar.trip.harvest import Charge, Harvest, HourResult, LegResult, SkyResult
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.loads import Load
from routesolar.trip.rig import Alternator, Battery, Panel, Rig
from routesolar.trip.route import SourceFile
from routesolar.trip.segments import Leg, Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Placement, Terrain

ZONE = "Australia/Hobart"
DEPARTURE_UTC_S = 1795120200.0  # 2026-11-20 07:30 in Hobart (UTC+11)
LEG_NAMES = ("Quay to Myrtle Bend", "Myrtle Bend", "Myrtle Bend to Dam", "Dam", "Dam to Depot")
KINDS = ("drive", "stop", "drive", "stop", "drive")
RATED_W = 200.0


def winding_segments(
    count: int = 240,
    *,
    west_deg: float = 147.0,
    depart_utc_s: float = DEPARTURE_UTC_S,
    lasts_h: float = 14.0,
):
    """Five legs along a winding line of some 500 km: three drives of 4 h each, two stops of an hour.

    All take as much longer as the whole lasts longer than 14 h.
    """
    leg = np.minimum(np.arange(count) * 5 // count, 4)
    stopped = np.isin(leg, (1, 3))
    share = np.cumsum(~stopped) / np.count_nonzero(~stopped)
    share = np.concatenate([[0.0], share])
    lat = -42.0 + 1.2 * share + 0.35 * np.sin(9 * share) + 0.03 * np.sin(60 * share)
    lon = west_deg + 3.6 * share + 0.4 * np.sin(6 * share) + 0.035 * np.cos(55 * share)
    east_m = np.diff(lon) * 111_320 * np.cos(np.radians(-42))
    north_m = np.diff(lat) * 110_574
    length_m = np.hypot(east_m, north_m)
    duration_s = np.where(stopped, 7200 / np.count_nonzero(stopped), 43200 / np.count_nonzero(~stopped))
    duration_s *= lasts_h / 14
    start_utc_s = depart_utc_s + np.concatenate([[0], np.cumsum(duration_s)[:-1]])
    elevation = 200 + 150 * np.sin(7 * share)
    return Segments(
        latitude_deg=lat[:-1],
        longitude_deg=lon[:-1],
        elevation_m=elevation[:-1],
        middle_latitude_deg=(lat[:-1] + lat[1:]) / 2,
        middle_longitude_deg=(lon[:-1] + lon[1:]) / 2,
        middle_elevation_m=(elevation[:-1] + elevation[1:]) / 2,
        end_latitude_deg=lat[1:],
        end_longitude_deg=lon[1:],
        heading_deg=np.degrees(np.arctan2(east_m, north_m)) % 360,
        grade_frac=np.zeros(count),
        speed_mps=length_m / duration_s,
        length_m=length_m,
        along_m=np.concatenate([[0], np.cumsum(length_m)[:-1]]),
        leg=leg,
        stopped=stopped,
        roofed=np.zeros(count, dtype=bool),
        driven_on=np.ones(count, dtype=bool),
        start_utc_s=start_utc_s[None, :],
        duration_s=duration_s[None, :],
        departure_utc_s=np.array([depart_utc_s]),
        legs=tuple(Leg(name=name, kind=kind) for name, kind in zip(LEG_NAMES, KINDS, strict=True)),
        time_zone=ZONE,
        route_name="Survey of the upper river",
        files=(SourceFile(name="river.gpx", sha256="ab" * 32),),
    )


def winding_harvest(count: int = 240, **where: float) -> Harvest:
    """From half past seven in the morning until half past nine in the evening: the end is after sunset."""
    segments = winding_segments(count, **where)
    hour = (7.5 + (segments.middle_utc_s[0] - segments.departure_utc_s[0]) / 3600) % 24
    elevation = 70 * np.sin(np.pi * (hour - 5.5) / 15)  # up at 05:30, down at 20:30
    day = elevation > 0
    height = np.where(day, np.sin(np.radians(elevation)), 0.0)
    beam = np.where(day, 0.55 + 0.45 * np.sin(40 * segments.along_m / 1e5) ** 2, np.nan)
    clear_w = RATED_W * 0.85 * height
    unobscured_w = np.where(day, clear_w * np.nan_to_num(beam) * 0.97, 0.0)
    obscured_w = clear_w * 0.33
    prob = np.where(segments.leg == 4, 0.3, 0.6)
    power = prob * unobscured_w + (1 - prob) * obscured_w
    open_w = prob * clear_w * 0.97 + (1 - prob) * obscured_w
    hours = segments.duration_s[0] / 3600
    ghi = 1000 * height * (0.4 + 0.6 * prob)
    sums = [_sums(segments, segments.leg == leg, (power, open_w, clear_w), hours) for leg in range(5)]
    legs = tuple(LegResult(leg=leg + 1, name=LEG_NAMES[leg], kind=KINDS[leg], **sums[leg]) for leg in range(5))
    everything = np.ones(count, dtype=bool)
    totals = LegResult(leg=0, name="", kind="", **_sums(segments, everything, (power, open_w, clear_w), hours))
    energy = power * hours
    return Harvest(
        segments=segments,
        sky="broken",
        sun_azimuth_deg=(90 - 12 * (hour - 6)) % 360,
        sun_elevation_deg=elevation,
        incidence_deg=np.where(day, 90 - elevation, np.nan),
        ghi_wm2=ghi,
        dni_wm2=np.where(day, 800 * prob, 0.0),
        dhi_wm2=ghi * 0.3,
        beam_transmittance_frac=beam,
        sky_view_frac=np.full(count, 0.8),
        plane_wm2=ghi * np.nan_to_num(beam),
        cell_c=15 + 20 * height,
        air_c=np.full(len(height), 15.0),
        power_w=power,
        energy_wh=energy,
        open_sky_w=open_w,
        clear_sky_w=clear_w,
        state_power_w=np.stack([unobscured_w, obscured_w]),
        sun_out_prob=prob,
        legs=legs,
        totals=totals,
        driving_wh=float(energy[~segments.stopped].sum()),
        stopped_wh=float(energy[segments.stopped].sum()),
        skies=tuple(
            SkyResult(sky=sky, energy_wh=totals.clear_sky_wh * share)
            for sky, share in (
                ("clear", 0.9),
                ("thin", 0.8),
                ("broken", 0.6),
                ("overcast", 0.3),
                ("rain", 0.15),
            )
        ),
        hours=_hours(segments, energy),
        notes=("Leaves are on the trees.",),
        warnings=("3 % of the route has straight lines over 2 km.",),
    )


def winding_report(count: int = 240, *, picture: bool = True, **where: float) -> HarvestReport:
    """The same with what was assumed around it."""
    harvest = winding_harvest(count, **where)
    report = HarvestReport(
        harvest=harvest,
        basis=Basis(
            segments=harvest.segments,
            rig=Rig(panels=(Panel(rated_w=RATED_W),)),
            sky=Sky(name="broken"),
            canopy=replace(
                Canopy.uniform(count, cover_frac=0.4),
                placement=Placement(
                    col=np.zeros(count), row=np.zeros(count), cells_per_m=np.tile(np.eye(2), (count, 1, 1))
                ),
                files=(SourceFile(name="cover.tif", sha256="cd" * 32),),
                data_frac=0.97,
            ),
            terrain=Terrain.flat(count),
            air_c=harvest.air_c,
            pace="as recorded",
            notes=harvest.notes,
        ),
        software="routesolar 0.1.0",
        ground=sample_ground(where.get("west_deg", 147.0)) if picture else Ground(),
    )
    return replace(report, rests_on=rests_on(report.basis, report.software))


def full_report(count: int = 240, **where: float) -> HarvestReport:
    """The same with everything a run can know: percentiles, losses, battery, engine and loads."""
    report = winding_report(count, **where)
    harvest = report.harvest
    hours = harvest.segments.duration_s[0] / 3600
    stopped = harvest.segments.stopped
    load_w, engine_w = np.full(count, 90.0), np.where(stopped, 0.0, 30.0)
    stored_wh = np.cumsum((harvest.power_w + engine_w - load_w) * hours)
    soc = np.clip(0.6 + stored_wh / 1000, 0.05, 1.0)
    charge = Charge(
        capacity_wh=1000.0,
        reserve_soc_frac=0.2,
        soc_frac=soc,
        soc_poor_frac=soc - 0.02 * np.arange(count) / count,
        alternator_w=engine_w,
        load_w=load_w,
        stored_wh=400.0,
        drawn_wh=300.0,
        cold_s=5400.0,
        coldest_c=-4.0,
        heater_wh=0.0,
        load_share_frac=0.7,
        lowest_soc_frac=float(soc.min()),
        lowest_utc_s=float(harvest.segments.start_utc_s[0, soc.argmin()]),
        lowest_soc_poor_frac=0.4,
        full_prob=0.2,
        first_full_utc_s=None,
        first_reserve_utc_s=DEPARTURE_UTC_S + 13 * 3600,
        short_prob=0.3,
        short_s=1800.0,
        shortfall_poor_wh=56.0,
        first_short_utc_s=None,
        first_short_poor_utc_s=DEPARTURE_UTC_S + 12 * 3600,
        alternator_needed_w=80.0,
        alternator_needed_wh=900.0,
    )

    def known(leg: LegResult, rows) -> LegResult:
        return replace(
            leg,
            energy_low_wh=leg.energy_wh * 0.5,
            energy_mid_wh=leg.energy_wh,
            energy_high_wh=leg.energy_wh * 1.3,
            alternator_wh=float((engine_w * hours)[rows].sum()),
            load_wh=float((load_w * hours)[rows].sum()),
            shortfall_wh=34.0 * float(hours[rows].sum() / hours.sum()),
            idle_wh=0.0,
            charge_loss_wh=20.0 * float(hours[rows].sum() / hours.sum()),
            battery_cold_wh=0.0,
            battery_full_wh=12.0 * float(hours[rows].sum() / hours.sum()),
            soc_start_frac=0.6 if leg.leg < 2 else float(soc[np.flatnonzero(rows)[0] - 1]),
            soc_end_frac=float(soc[rows][-1]),
        )

    legs = tuple(known(leg, harvest.segments.leg == leg.leg - 1) for leg in harvest.legs)
    totals = replace(
        known(harvest.totals, np.ones(count, dtype=bool)),
        energy_clouds_low_wh=harvest.totals.energy_wh * 0.55,
        energy_clouds_high_wh=harvest.totals.energy_wh * 1.25,
        energy_shade_low_wh=harvest.totals.energy_wh * 0.8,
        energy_shade_high_wh=harvest.totals.energy_wh * 1.1,
    )
    chain = {"clouds": 300.0, "terrain": 0.0, "canopy": 120.0, "reflection": 20.0, "temperature": -8.0}
    losses = chain | {"battery_cold": 0.0, "battery_full": 12.0}
    everything = replace(
        harvest,
        legs=legs,
        totals=totals,
        charge=charge,
        hours=tuple(replace(hour, load_wh=90.0) for hour in harvest.hours),
        rated_clear_wh=totals.energy_wh + sum(chain.values()),
        losses_wh=losses,
        battery_wh=totals.energy_wh - 12.0,
    )
    rig = replace(
        report.basis.rig,
        battery=Battery(capacity_wh=1000),
        alternator=Alternator(charge_w=30),
        loads=(Load(name="sample freezer", power_w=90),),
    )
    return replace(report, harvest=everything, basis=replace(report.basis, rig=rig))


def sample_ground(west_deg: float = 147.0) -> Ground:
    """Trees and hills beneath the winding line."""
    return Ground(trees=canopy_picture(west_deg), relief=relief_picture(west_deg))


def rough_ground() -> Ground:
    """Pictures as large as the readers make them, and without any order that packs small."""
    drawn = np.random.default_rng(1)
    noise = [replace(canopy_picture(), values=drawn.random((600, 600), dtype=np.float32)) for _ in range(2)]
    return Ground(trees=noise[0], relief=noise[1])


def most_outlines():
    """As much as a map is ever given."""
    turn = np.linspace(0, 2 * np.pi, 600)
    ring = np.column_stack([-42 + np.sin(turn) + 0.1 * np.sin(40 * turn), 148 + 2 * np.cos(turn)])
    towns = (Town(name=f"Town {n}", latitude_deg=-42.0, longitude_deg=147 + n / 60) for n in range(60))
    return Outlines(water=(ring,), borders=(ring + 0.2,), towns=tuple(towns))


def relief_picture(west_deg: float = 147.0) -> MapPicture:
    """Ridges on a plain, in shade; its western rim is unknown."""
    rows, cols = np.mgrid[0:200, 0:400]
    shade = FLAT_FRAC + 0.3 * np.sin(rows / 11 + cols / 23) * np.sin(cols / 13) ** 3
    shade[:, :6] = np.nan
    return replace(canopy_picture(west_deg), values=shade.astype(np.float32))


def canopy_picture(west_deg: float = 147.0) -> MapPicture:
    """Soft patches of trees around the winding line."""
    rows, cols = np.mgrid[0:120, 0:300]
    cover = np.clip(0.5 + 0.6 * np.sin(rows / 9) * np.cos(cols / 17) + 0.3 * np.sin(cols / 5), 0, 1)
    cover[:4] = np.nan
    return MapPicture(
        values=cover.astype(np.float32),
        south_deg=-42.6,
        west_deg=west_deg - 0.4,
        north_deg=-40.6,
        east_deg=west_deg + 4.2,
    )


def renamed(report: HarvestReport, name: str) -> HarvestReport:
    """The same with `name` wherever a traveller's own words appear."""
    harvest = report.harvest
    legs = tuple(replace(leg, name=name) for leg in harvest.legs)
    files = (SourceFile(name=name, sha256="ab" * 32),)
    segments = replace(harvest.segments, route_name=name, files=files)
    rig, canopy = report.basis.rig, report.basis.canopy
    basis = replace(
        report.basis,
        segments=segments,
        pace=name,
        rig=replace(rig, name=name, panels=(replace(rig.panels[0], name=name),)),
        canopy=replace(canopy, files=(SourceFile(name=name, sha256="cd" * 32),)),
        notes=(name,),
    )
    told = replace(harvest, segments=segments, legs=legs, notes=(name,), warnings=(name,))
    return replace(report, harvest=told, basis=basis)


def _sums(segments, rows, watts, hours) -> dict[str, float | None]:
    power, open_w, clear_w = (values[rows] for values in watts)
    spans = hours[rows]
    energy, open_wh, clear_wh = (float((values * spans).sum()) for values in (power, open_w, clear_w))
    start = segments.start_utc_s[0][rows]
    return {
        "start_utc_s": float(start[0]),
        "end_utc_s": float(start[-1] + 3600 * spans[-1]),
        "distance_km": float((segments.length_m * ~segments.stopped)[rows].sum() / 1000),
        "duration_s": float(spans.sum() * 3600),
        "mean_w": energy / float(spans.sum()),
        "peak_w": float(power.max()),
        "energy_wh": energy,
        "open_sky_wh": open_wh,
        "clear_sky_wh": clear_wh,
        "shade_loss_frac": 1 - energy / open_wh if open_wh else None,
        "cloud_loss_frac": 1 - open_wh / clear_wh if clear_wh else None,
    }


def _hours(segments: Segments, energy_wh) -> tuple[HourResult, ...]:
    starts = (segments.middle_utc_s[0] // 3600) * 3600
    return tuple(
        HourResult(
            start_utc_s=float(start),
            driving_wh=float(energy_wh[(starts == start) & ~segments.stopped].sum()),
            stopped_wh=float(energy_wh[(starts == start) & segments.stopped].sum()),
        )
        for start in np.unique(starts)
    )
