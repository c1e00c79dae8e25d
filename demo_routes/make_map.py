"""Make the demo's map file: the roads, woods, houses and water of a land that exists nowhere.

Run: python demo_routes/make_map.py [folder to write to, this one by default], after make_demo.py
"""

import re
import sys
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

HERE = Path(__file__).parent
EAST_M, NORTH_M = 83_500.0, 111_060.0  # a degree, at 41.4 S
GOOD_TO_M = 4.0
# Kilometres along the forest road, the road there, and what its tags say.
FOREST = (
    (0.0, {"highway": "secondary", "lanes": "2", "maxspeed": "70"}),
    (9.0, {"highway": "tertiary", "width": "6"}),
    (14.0, {"highway": "tertiary", "width": "6", "tunnel": "yes", "name": "Slate Tunnel"}),
    (14.6, {"highway": "tertiary", "width": "6"}),
    (26.0, {"highway": "unclassified", "lanes": "1", "maxspeed": "50"}),
    (26.05, {"highway": "unclassified", "lanes": "1", "bridge": "yes"}),
    (26.2, {"highway": "unclassified", "lanes": "1", "maxspeed": "50"}),
)
COAST = (
    (0.0, {"highway": "primary", "lanes": "2", "maxspeed": "80"}),
    (22.0, {"highway": "primary", "lanes": "2", "maxspeed": "80", "bridge": "yes"}),
    (22.2, {"highway": "primary", "lanes": "2"}),
)


class Map:
    """Places, lines and areas as they are written down."""

    def __init__(self) -> None:
        self.places: dict[tuple[float, float], int] = {}
        self.tagged: dict[int, dict[str, str]] = {}
        self.ways: list[tuple[list[int], dict[str, str]]] = []

    def place(self, lat: float, lon: float, **tags: str) -> int:
        """Return the number of a place."""
        number = self.places.setdefault((round(lat, 6), round(lon, 6)), len(self.places) + 1)
        if tags:
            self.tagged[number] = tags
        return number

    def way(self, lat: np.ndarray, lon: np.ndarray, tags: dict[str, str], *, closed: bool = False) -> None:
        """Add a line, or an area whose last corner joins the first."""
        numbers = [self.place(float(a), float(b)) for a, b in zip(lat, lon, strict=True)]
        self.ways.append((numbers + numbers[:1] * closed, tags))

    def text(self) -> str:
        """Return the file."""
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            '<osm version="0.6" generator="make_map.py" copyright="Invented for a demonstration">',
        ]
        for (lat, lon), number in self.places.items():
            lines += _element(f'node id="{number}" lat="{lat}" lon="{lon}"', (), self.tagged.get(number, {}))
        for number, (nodes, tags) in enumerate(self.ways, 1):
            lines += _element(f'way id="{number}"', nodes, tags)
        return "\n".join([*lines, "</osm>", ""])


def _element(head: str, nodes: object, tags: dict[str, str]) -> list[str]:
    inside = [f'<nd ref="{node}"/>' for node in nodes]
    inside += [f"<tag k={quoteattr(key)} v={quoteattr(value)}/>" for key, value in tags.items()]
    return [f"<{head}>{''.join(inside)}</{head.split()[0]}>" if inside else f"<{head}/>"]


def line_of(name: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return latitudes and longitudes of a demo route, and the kilometres to each point."""
    text = (HERE / name).read_text(encoding="utf-8")
    lat, lon = np.array(re.findall(r'<rtept lat="([-\d.]+)" lon="([-\d.]+)"', text), dtype=float).T
    apart = np.hypot(np.diff(lat) * NORTH_M, np.diff(lon) * EAST_M)
    return lat, lon, np.concatenate([[0.0], np.cumsum(apart)]) / 1000


def drawn(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    """Return which corners tell a line to within 4 m."""
    places, kept = np.stack([lon * EAST_M, lat * NORTH_M], axis=1), {0, len(lat) - 1}
    parts = [(0, len(lat) - 1)]
    while parts:
        first, last = parts.pop()
        along, apart = places[last] - places[first], places[first + 1 : last] - places[first]
        off = np.abs(along[0] * apart[:, 1] - along[1] * apart[:, 0]) / max(np.hypot(*along), 1e-9)
        if len(off) and off.max() > GOOD_TO_M:
            worst = first + 1 + int(off.argmax())
            kept.add(worst)
            parts += [(first, worst), (worst, last)]
    return np.array(sorted(kept))


def add_road(land: Map, name: str, stretches: object) -> None:
    """Add a road, a line for each of its stretches."""
    lat, lon, km = line_of(name)
    ends = [*(np.searchsorted(km, from_km) for from_km, _ in stretches[1:]), len(km) - 1]
    first = 0
    for last, (_, tags) in zip(ends, stretches, strict=True):
        part = slice(first, int(last) + 1)
        corners = drawn(lat[part], lon[part]) + first
        land.way(lat[corners], lon[corners], tags)
        first = int(last)


def around(lat: float, lon: float, wide_m: float, high_m: float, corners: int, rng: np.random.Generator):
    """Return the outline of a wood or a lake: a ragged ellipse."""
    turn = np.linspace(0, 2 * np.pi, corners, endpoint=False)
    ragged = 1 + 0.15 * rng.normal(size=corners)
    return lat + ragged * np.sin(turn) * high_m / NORTH_M, lon + ragged * np.cos(turn) * wide_m / EAST_M


def main(folder: Path) -> None:
    """Write the map."""
    land, rng = Map(), np.random.default_rng(5)
    add_road(land, "forest.gpx", FOREST)
    add_road(land, "coast.gpx", COAST)
    lat, lon, km = line_of("forest.gpx")

    def at(from_km: float) -> tuple[float, float]:
        return float(np.interp(from_km, km, lat)), float(np.interp(from_km, km, lon))

    kinds = ({"natural": "wood"}, {"landuse": "forest", "leaf_cycle": "evergreen", "height": "24"})
    for number, from_km in enumerate(np.arange(7.0, km[-1] - 2, 3.1)):
        outline = around(*at(from_km), rng.uniform(1200, 2200), rng.uniform(700, 1300), 24, rng)
        land.way(*outline, kinds[number % 2], closed=True)
    lake = around(at(20.0)[0] + 0.012, at(20.0)[1], 700, 450, 20, rng)
    land.way(*lake, {"natural": "water", "name": "Long Tarn"}, closed=True)
    start = at(0.0)
    land.place(start[0] + 0.001, start[1] + 0.001, place="village", name="Depot", population="600")
    for number in range(40):  # houses along the first kilometres, on both sides
        here, side = at(0.1 + 0.05 * number), 1 if number % 2 else -1
        corner = np.array([[0.0, 0.0], [0.0, 12.0], [9.0, 12.0], [9.0, 0.0]])
        corner[:, 0] += side * rng.uniform(12, 25)
        storeys = str(rng.integers(1, 4))
        tags = {"building": "yes", "building:levels": storeys}
        land.way(here[0] + corner[:, 0] / NORTH_M, here[1] + corner[:, 1] / EAST_M, tags, closed=True)
    row = slice(*np.searchsorted(km, [3.0, 5.0]))
    land.way(lat[row][::4] + 9 / NORTH_M, lon[row][::4], {"natural": "tree_row", "height": "16"})
    here = at(10.5)  # a lay-by in the wood, and a parking place at the coast
    land.place(here[0] + 0.0002, here[1], highway="rest_area", name="Saddle")
    coast_lat, coast_lon, coast_km = line_of("coast.gpx")
    here = (float(np.interp(12.4, coast_km, coast_lat)), float(np.interp(12.4, coast_km, coast_lon)))
    corner = np.array([[0.0, 0.0], [0.0, 70.0], [40.0, 70.0], [40.0, 0.0]]) + 8.0
    lot = here[0] + corner[:, 0] / NORTH_M, here[1] + corner[:, 1] / EAST_M
    land.way(*lot, {"amenity": "parking", "name": "Shell Beach"}, closed=True)
    (folder / "land.osm").write_text(land.text(), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
