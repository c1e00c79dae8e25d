"""What bends cost: 96 departures through a wood, on a straight road and on hairpins of the same length.

First energy at the usual step is held against that at a quarter of it. Processor seconds on one thread, warm.
"""

import numpy as np

from benchmarks.decisions import QUARTERS, RIG, seconds
from routesolar.model.points import points_along
from routesolar.model.scene import run, set_scene
from routesolar.model.sky import sky_states
from routesolar.timetable import drive
from routesolar.trip.route import Plan, Route
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from tests.bends import hairpins_m, route_through, winding_m

LENGTH_M, NOON = 20_000.0, QUARTERS[44:45]
CLEAR = Sky(name="clear")


def roads() -> dict[str, Route]:
    """Return roads of some 20 km by what they are called."""
    along_m = np.arange(0.0, LENGTH_M, 20.0)
    straight = {"a straight road": route_through(np.column_stack([along_m, 0.5 * along_m]))}
    bends = {
        f"hairpins of {radius_m:.0f} m": route_through(
            hairpins_m(radius_m, round(LENGTH_M / (60 + np.pi * radius_m)))
        )
        for radius_m in (200.0, 100.0, 40.0, 20.0)
    }
    return straight | {"a winding road": route_through(winding_m(LENGTH_M))} | bends


def energy_wh(route: Route, step_m: float) -> float:
    """Return the energy of a drive at noon through an even wood."""
    segments = drive(route, NOON, plan=Plan(speed_mps=12.0, step_m=step_m))
    scene = set_scene(segments, RIG, wood(segments), Terrain.flat(segments.count))
    states = sky_states(CLEAR, segments, scene.sun.apparent_elevation_deg)
    return float(np.sum(run(scene, [states]).expected_w[0] * segments.duration_s / 3600))


def wood(segments: Segments) -> Canopy:
    """Return an even wood along a drive."""
    return Canopy.uniform(segments.count, cover_frac=0.6)


def main() -> None:
    """Assert that the step does not matter, then print the times."""
    for name, route in roads().items():
        usual_wh, quarter_wh = energy_wh(route, 50.0), energy_wh(route, 12.5)
        change = usual_wh / quarter_wh - 1
        assert abs(change) < 0.005
        day = drive(route, QUARTERS, plan=Plan(speed_mps=12.0))
        canopy, flat = wood(day), Terrain.flat(day.count)
        points = len(points_along(day, canopy).segment) / day.count
        day_s = seconds(lambda day=day, canopy=canopy, flat=flat: set_scene(day, RIG, canopy, flat), 2)
        print(
            f"bends: {name}: {points:.1f} points a segment, 96 departures {day_s:.2f} s; "
            f"energy at 50 m {change:+.2%} of that at 12.5 m"
        )


if __name__ == "__main__":
    main()
