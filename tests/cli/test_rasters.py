"""Rasters that cannot be used, at the command line: one message for each, and nothing is written."""

from pathlib import Path

import numpy as np
import pytest
from files.range_server import serving
from files.raster_samples import from_origin, write
from terminal import asked, refused, road, run

# Around the road of `road`, which runs from 147.0 to 147.12 degrees east at 42 degrees south.
HERE = {"crs": "EPSG:4326", "transform": from_origin(146.98, -41.98, 0.0005, 0.0005)}
SHAPE = (80, 320)
KINDS = {
    "canopy": np.full(SHAPE, 60, "uint8"),
    "canopy_height": np.full(SHAPE, 18.0, "f4"),
    "terrain": np.full(SHAPE, 120.0, "f4"),
    "leaf_type": np.full(SHAPE, 2, "uint8"),
}
kinds = pytest.mark.parametrize("kind", KINDS)


def trip(folder: Path, kind: str, raster: str) -> Path:
    """Write a trip file that gives the raster."""
    road(folder)
    lines = ['route = "road.gpx"', 'panel = "200W"', 'depart = "2026-11-20 12:00"', 'speed = "60km/h"']
    lines += ['sky = "broken"', "strict = false"] + (["canopy_cover_pct = 50"] if kind != "canopy" else [])
    lines += ["[trees]"] * (kind == "leaf_type") + [f'{kind} = "{raster}"']
    path = folder / "trip.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@kinds
def test_a_sound_raster_is_used_and_named(tmp_path: Path, kind: str) -> None:
    write(tmp_path / "map.tif", KINDS[kind], **HERE)
    ran = run("harvest", trip(tmp_path, kind, "map.tif"))
    assert ran.code == 0
    assert "map.tif" in ran.out


@kinds
@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("without CRS", "has no coordinate reference system"),
        ("degrees as metres", "says its coordinates are metres"),
        ("metres as degrees", "says its coordinates are degrees"),
        ("no data", "every pixel near the route is no data"),
        ("cut short", "cannot be read"),
        ("empty", "cannot be read"),
        ("elsewhere", "does not come near the route"),
        ("missing", "there is no such file"),
        ("folder", "this is a folder"),
    ],
)
def test_a_raster_that_cannot_be_used_is_refused(tmp_path: Path, kind: str, fault: str, said: str) -> None:
    path, values = tmp_path / "map.tif", KINDS[kind]
    if fault == "folder":
        path.mkdir()
    elif fault != "missing":
        other = {
            "without CRS": {"crs": None},
            "degrees as metres": {"crs": "EPSG:32755"},
            "metres as degrees": {"transform": from_origin(500_000, 5_400_000, 30, 30)},
            "no data": {"nodata": values.flat[0]},
            "elsewhere": {"transform": from_origin(10, 50, 0.0005, 0.0005)},
        }
        write(path, values, **HERE | other.get(fault, {}))
        if fault in ("cut short", "empty"):
            path.write_bytes(path.read_bytes()[: 12_000 if fault == "cut short" else 0])
    message = refused(3, "harvest", trip(tmp_path, kind, "map.tif"), "-o", tmp_path / "out")
    assert "map.tif" in message
    assert said in message
    assert not (tmp_path / "out").exists()


@kinds
def test_a_web_address_that_fails_is_refused(
    tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    raster = write(tmp_path / "map.tif", KINDS[kind], **HERE)
    for manner in ("refuses", "always the first bytes"):
        with serving(raster, manner) as (_, address):
            message = refused(3, "harvest", trip(tmp_path, kind, address))
        assert "/map.tif cannot be read" in message
        assert "check the address" in message


@kinds
def test_values_outside_the_range_are_counted_or_refused(tmp_path: Path, kind: str) -> None:
    values = KINDS[kind].astype("i2")
    values[:, ::2] = {"terrain": 30_000, "leaf_type": 7}.get(kind, 3_000)
    values[:, 1::40] = values[0, 0]
    write(tmp_path / "map.tif", values, **HERE)
    ran = run("harvest", trip(tmp_path, kind, "map.tif"), "--json")
    if ran.code == 0:
        assert any("unknown on" in text for text in ran.json["warnings"])
    else:
        assert (ran.code, ran.out) == (3, "")
        assert "map.tif" in ran.err


@kinds
def test_what_a_raster_does_not_know_is_counted_and_strict_refuses_it(tmp_path: Path, kind: str) -> None:
    values = KINDS[kind].copy()
    values[:, 150:] = 255 if values.dtype == "uint8" else -9999
    write(tmp_path / "map.tif", values, nodata=values[0, -1], **HERE)
    drive = trip(tmp_path, kind, "map.tif")
    said = run("harvest", drive, "--json").json["warnings"]
    assert any("unknown" in text and "%" in text for text in said)
    if kind != "canopy_height":  # beside a cover for all, heights only refine it
        assert "--strict" in refused(4, "harvest", drive, "--strict", "-o", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_address_of_another_kind_is_no_file(tmp_path: Path) -> None:
    message = refused(3, "harvest", *asked(road(tmp_path)), "--terrain", "ftp://example.org/map.tif")
    assert "give an http:// or https:// address" in message
