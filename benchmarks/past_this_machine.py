"""What larger jobs would take, and how far off the processor's limits are: arithmetic on measured figures."""

ROUTES, DAYS, LEAVING, SKIES, POINTS = 1_000, 365, 48, 5, 2_000
ROAD_KM, POINT_M, LOOKS = 5_000_000, 50, 12 * 24  # a continent's roads, roughly; months x hours
LIT = 0.5  # of all departures by day and night have a sun to trace
ROW_BYTES = 160  # a drive under one sky: twenty figures of eight bytes, before compression
# Estimates: sums and products of one point under one sky (an elementary function counts as 20), the bytes
# that are written and read again; and what one core does at best: two units of four doubles that multiply
# and add at 2.45 GHz, and its share of the memory.
FLOP, BYTES, FLOP_A_NS, BYTES_A_NS = 500, 120, 2.45 * 16, 10.0

TEXT = """## Past this machine

Arithmetic on the figures above (`past_this_machine.py`); a core is one such as this.

- **A fleet's year**, {routes:,} routes x {days} days x {leaving} departures x {skies} skies x {points:,}
  points, is {all_points:.2g} points under a sky. At {each:.0f} ns each: {chain:.0f} core hours; its rays on
  a 30 m raster, half of the departures having a sun: {rays:.0f} more. On 64 cores {minutes:.0f} minutes.
  Reduced in the workers to a row for each drive and sky: {rows:.0f} million rows, {gb:.0f} GB before
  compression; every point kept would be {tb:.1f} TB a field. Batteries and bands are not in it: see the
  sweep in the table.
- **A continent's roads**, {mkm:.0f} million km with a point every {step} m, at {looks} months x hours under
  one sky: {mpoints:.0f} million points; chain {road_chain:.0f} core hours, rays {road_rays:.0f}, sky views
  {road_views:.1f}, terrain's horizons {horizons:.0f}. One float32 a point and hour is {road_gb:.0f} GB.
  Rasters are read tile by tile, once each.
- **Limits.** A point under a sky is some {flop} sums and products and {bytes} bytes (estimates): at best
  {flop_ns:.0f} ns of a core's floating point, {bytes_ns:.0f} ns of its share of the memory. The chain takes
  {each:.0f} ns, {times:.0f} times the larger. Each sky more costs some 40 ns; the rest is the sun's place,
  clear sky and usual air of every point, and fresh memory for arrays of departures x points.
"""


def plan(figures: dict[str, float]) -> str:
    """Return the section as Markdown."""
    each_ns = 1e9 * figures["one_thread_cpu_s"] / (2000 * 96 * 5)
    drives, rays_an_hour = ROUTES * DAYS * LEAVING, 3600 * figures["rays_a_second_30m"]
    all_points, road_points = drives * SKIES * POINTS, ROAD_KM * 1000 / POINT_M
    chain_h, rays_h = all_points * each_ns / 3.6e12, drives * POINTS * LIT / rays_an_hour
    return TEXT.format(
        routes=ROUTES,
        days=DAYS,
        leaving=LEAVING,
        skies=SKIES,
        points=POINTS,
        all_points=all_points,
        each=each_ns,
        chain=chain_h,
        rays=rays_h,
        minutes=60 * (chain_h + rays_h) / 64,
        rows=drives * SKIES / 1e6,
        gb=drives * SKIES * ROW_BYTES / 1e9,
        tb=all_points * 8 / 1e12,
        mkm=ROAD_KM / 1e6,
        step=POINT_M,
        looks=LOOKS,
        mpoints=road_points / 1e6,
        road_chain=road_points * LOOKS * figures["skies_1_ns"] / 3.6e12,
        road_rays=road_points * LOOKS * LIT / rays_an_hour,
        road_views=road_points * figures["sky_view_us"] / 3.6e9,
        horizons=road_points / 4_000 * figures["horizons_4000_cpu_s"] / 3600,
        road_gb=road_points * LOOKS * 4 / 1e9,
        flop=FLOP,
        bytes=BYTES,
        flop_ns=FLOP / FLOP_A_NS,
        bytes_ns=BYTES / BYTES_A_NS,
        times=each_ns / max(FLOP / FLOP_A_NS, BYTES / BYTES_A_NS),
    )
