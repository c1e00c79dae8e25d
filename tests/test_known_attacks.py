"""Known attacks and known accidents, each against the public command: a result or one message, never a fault.

Each row is a name, how its files are made, the words of the command, and the exit code that is due.
"""

import os
import unicodedata
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hostile_names import HOSTILE
from rasterio import Affine
from rasterio.warp import transform
from routes import gpx, point, saved, track
from terminal import asked, refused, road, run


def cells(west: float, north: float, size: float) -> Affine:
    return Affine(size, 0, west, 0, -size, north)


BOMB = '<!DOCTYPE gpx [<!ENTITY a "lol">' + "".join(
    f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(9)
)
LINE = track(point(-42, 147), point(-42.1, 147))
GPX_ATTACKS: dict[str, str | bytes] = {
    "entity bomb": BOMB + "]>" + gpx("<name>&j;</name>" + LINE),
    "external entity": '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    + gpx("<name>&x;</name>" + LINE),
    "external DTD": '<!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd">' + gpx(LINE),
    "parameter entity": '<!DOCTYPE gpx [<!ENTITY % x SYSTEM "http://127.0.0.1:9/x"> %x;]>' + gpx(LINE),
    "200,000 deep": gpx("<a>" * 200_000),
    "undeclared entity": gpx("<name>&x;</name>" + LINE),
    "UTF-7": b'<?xml version="1.0" encoding="UTF-7"?>' + gpx(LINE).encode(),
    "UTF-16 said, UTF-8 given": b'<?xml version="1.0" encoding="UTF-16"?>' + gpx(LINE).encode(),
    "unknown encoding": b'<?xml version="1.0" encoding="x-none"?>' + gpx(LINE).encode(),
    "bytes of no encoding": gpx(LINE).encode().replace(b"<trk>", b"<trk><name>\xff\xfe</name>"),
    "zip posing as GPX": b"PK\x03\x04" + b"\0" * 100,
    "gzip posing as GPX": b"\x1f\x8b\x08" + b"\0" * 100,
    "NUL bytes": b"\0" * 1000,
    "a web page": "<!doctype html><html><body>404</body></html>",
    "SVG": '<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "latitude not a number": gpx(track(point("nan", 147), point(-42.1, 147))),
    "latitude of 1e400": gpx(track(point("1e400", 147), point(-42.1, 147))),
    "longitude infinite": gpx(track(point(-42, "inf"), point(-42.1, 147))),
    "empty": b"",
    "cut short": gpx(LINE)[:-20],
}


@pytest.mark.parametrize("attack", GPX_ATTACKS)
def test_a_route_that_is_an_attack_is_refused(tmp_path: Path, attack: str) -> None:
    text = GPX_ATTACKS[attack]
    path = tmp_path / "road.gpx"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    message = refused(3, "harvest", *asked(path))
    assert "\n" not in message and len(message) < 1000
    assert "root:" not in message


@pytest.mark.parametrize("points", [1, 50])
def test_a_track_that_stays_in_one_place_is_asked_how_long(tmp_path: Path, points: int) -> None:
    path = saved(tmp_path, gpx(track(*[point(-42, 147)] * points)))
    assert "nobody stays" in refused(2, "harvest", *asked(path))


def test_a_huge_attribute_is_read_and_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "road.gpx"
    path.write_text(gpx(LINE).replace("<trk>", f'<trk note="{"a" * 5_000_000}">'), encoding="utf-8")
    assert run("route", *asked(path)).code == 0


@pytest.mark.parametrize("name", ["pipe", "device", "folder", "circle", "nothing"])
@pytest.mark.parametrize("option", ["", "--rig", "--weather", "--canopy", "--terrain"])
def test_what_is_no_file_is_refused_at_once(tmp_path: Path, name: str, option: str) -> None:
    path = tmp_path / f"{name}.gpx"
    if name == "pipe":
        os.mkfifo(path)  # to open it would wait for ever
    elif name == "device":
        path = Path("/dev/zero")
    elif name == "folder":
        path.mkdir()
    elif name == "circle":
        path.symlink_to(path)
    drive = asked(road(tmp_path)) if option else asked(path)
    if option == "--rig":
        drive = [*drive[:1], *drive[3:]]
    refused(3, "harvest", *drive, *([option, path] if option else []))


@pytest.mark.parametrize("kind", ["gpx", "toml", "rig"])
@pytest.mark.parametrize("name", sorted(HOSTILE))
def test_names_of_strangers_do_not_steer_the_terminal(tmp_path: Path, kind: str, name: str) -> None:
    shown = HOSTILE[name].encode("utf-8", "replace").decode()
    quoted = shown.replace("\\", "\\\\").replace('"', '\\"')
    quoted = "".join(f"\\u{ord(c):04x}" if unicodedata.category(c) == "Cc" else c for c in quoted)
    if kind == "gpx":
        plain = (
            "".join(c for c in shown if c.isprintable() or c in "\n\t")
            .replace("&", "&amp;")
            .replace("<", "&lt;")
        )
        path = tmp_path / "road.gpx"
        path.write_text(gpx(point(-42, 147, f"<name>{plain}</name>", kind="wpt") + LINE), encoding="utf-8")
        ran = run("route", *asked(path))
    else:
        path = tmp_path / "van.toml"
        unknown = f'"{quoted}" = 1\n' if kind == "toml" else ""
        path.write_text(f'{unknown}[[panel]]\nrated_w = 100\nname = "{quoted}"\n', encoding="utf-8")
        ran = run("rig", path)
    assert ran.code in (0, 3), ran.err
    letters = set(ran.out + ran.err) - {"\n"}
    assert not {unicodedata.category(letter) for letter in letters} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_a_folder_whose_name_is_an_escape_sequence_is_told_without_it(tmp_path: Path) -> None:
    folder = tmp_path / "out\x1b[2J\x1b]0;owned\x07"
    ran = run("departures", *asked(road(tmp_path)), "--sky", "clear", "--every", "12h", "-o", folder)
    assert ran.code == 0 and folder.is_dir()
    assert "written: " in ran.err and "\x1b" not in ran.err + ran.out
    (tmp_path / "van\x1b[2J.toml").write_text("[[panel]]\nrated_w = 100\n", encoding="utf-8")
    assert "\x1b" not in run("rig", tmp_path / "van\x1b[2J.toml").out


def test_a_written_route_is_xml_whatever_its_name(tmp_path: Path) -> None:
    path = road(tmp_path, "n\ufffe\uffff<&\"'\x02.gpx")
    assert run("harvest", *asked(path), "--sky", "clear", "--also", "gpx,kml", "-o", tmp_path / "out").code == 0
    for name in ("route.gpx", "route.kml"):
        ET.fromstring((tmp_path / "out" / name).read_text(encoding="utf-8"))


ADDRESSES = {
    "port beyond all": "http://localhost:99999/a.tif",
    "port of letters": "http://localhost:abc/a.tif",
    "half a bracket": "http://[::1/a.tif",
    "no host": "http:///a.tif",
    "nothing": "https://",
    "line break": "http://localhost/a\n.tif",
}


@pytest.mark.parametrize("option", ["--canopy", "--terrain", "--canopy-height"])
@pytest.mark.parametrize("address", ADDRESSES)
def test_an_address_that_cannot_be_is_refused(tmp_path: Path, address: str, option: str) -> None:
    said = refused(3, "harvest", *asked(road(tmp_path)), option, ADDRESSES[address])
    assert "not a web address" in said or "no such file" in said


@pytest.mark.parametrize("address", ["http://127.0.0.1:9/a.gpx", "file:///etc/passwd", "ftp://x/a.gpx"])
@pytest.mark.parametrize("option", ["", "--rig", "--weather"])
def test_an_address_is_no_file(tmp_path: Path, address: str, option: str) -> None:
    drive = asked(road(tmp_path))
    drive = [address, *drive[1:]] if not option else drive
    if option == "--rig":
        drive = [*drive[:1], *drive[3:]]
    refused(3, "harvest", *drive, *([option, address] if option else []))


def raster(path: Path, crs: object, placed: Affine, size: int = 64, **tags: object) -> Path:
    profile = {"driver": "GTiff", "width": size, "height": size, "count": 1, "dtype": "uint8"}
    with rasterio.open(path, "w", **profile, crs=crs, transform=placed) as made:
        made.write(np.full((size, size), 50, dtype="uint8"), 1)
        for name, value in tags.items():
            setattr(made, name, value)
    return path


NEAR = cells(146.9, -41.85, 0.005)
LOCAL = 'LOCAL_CS["mine",UNIT["metre",1]]'
RASTERS: dict[str, tuple[object, Affine, str]] = {
    "vertical": ("EPSG:5773", NEAR, "neither degrees on Earth nor a map"),
    "geocentric": ("EPSG:4978", NEAR, "neither degrees on Earth nor a map"),
    "local": (LOCAL, cells(5e5, 5.4e6, 10), "neither degrees on Earth nor a map"),
    "the whole disc": ("+proj=ortho +lat_0=-42 +lon_0=147", cells(-7e6, 7e6, 2.2e5), "wide near"),
    "a satellite's disc": ("+proj=geos +h=35785831 +lon_0=147", cells(-5e6, 5e6, 2e5), "wide near"),
    "the other side of the globe": ("+proj=gnom +lat_0=48 +lon_0=8", cells(-9, 9, 1), "come near"),
    "another zone": ("EPSG:32631", cells(5e5, 5.4e6, 10), "does not come near the route"),
    "cells of nanometres": ("EPSG:4326", cells(147, -42, 1e-12), "cells are 9.59e-08 m wide"),
    "cells of no size": ("EPSG:4326", cells(147, -42, 1e-200), "no position"),
    "cells of 400 km": ("EPSG:4326", cells(120, -20, 4.2), "cells are 4.03e+05 m wide"),
    "cells beyond numbers": ("EPSG:4326", Affine(1e300, 0, -1e300, 0, -1e300, 1e300), "no position"),
    "cells not a number": ("EPSG:4326", Affine(float("nan"), 0, 147, 0, -0.01, -42), "no position"),
    "no CRS": (None, NEAR, "no coordinate reference system"),
}


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize("option", ["--canopy", "--terrain"])
@pytest.mark.parametrize("case", RASTERS)
def test_a_raster_that_lies_nowhere_is_refused(tmp_path: Path, case: str, option: str) -> None:
    crs, placed, message = RASTERS[case]
    crs = rasterio.CRS.from_wkt(LOCAL) if crs == LOCAL else crs
    path = raster(tmp_path / "trees.tif", crs, placed)
    said = refused(3, "harvest", *asked(road(tmp_path)), option, path)
    assert message in said or "says its coordinates are" in said
    assert len(said) < 600


@pytest.mark.parametrize("scale", [0.0, float("nan"), float("inf")])
def test_a_scale_that_leaves_no_values_is_refused(tmp_path: Path, scale: float) -> None:
    path = raster(tmp_path / "trees.tif", "EPSG:4326", NEAR, scales=(scale,))
    assert "are to be multiplied by" in refused(3, "harvest", *asked(road(tmp_path)), "--canopy", path)


def test_a_raster_that_is_a_bomb_by_its_declared_size_is_refused_or_read_in_parts(tmp_path: Path) -> None:
    path = tmp_path / "bomb.tif"
    profile = {"driver": "GTiff", "width": 200_000, "height": 200_000, "count": 1, "dtype": "float64"}
    place = cells(146.9, -41.8, 0.000002)
    with rasterio.open(path, "w", **profile, crs="EPSG:4326", transform=place, tiled=True, SPARSE_OK=True):
        pass
    assert path.stat().st_size < 40_000_000  # of 320 GB declared
    refused(3, "harvest", *asked(road(tmp_path, length_km=1.0, camp_km=0.5)), "--canopy", path)


@pytest.mark.parametrize("head", ["ncols 100000\nnrows 100000\n", "ncols 999999999\nnrows 999999999\n"])
def test_a_grid_of_text_that_is_a_bomb_by_its_declared_size_is_refused(tmp_path: Path, head: str) -> None:
    path = tmp_path / "bomb.asc"
    path.write_text(head + "xllcorner 146.9\nyllcorner -42.2\ncellsize 0.0001\n50 50 50\n", encoding="utf-8")
    path.with_suffix(".prj").write_text(rasterio.CRS.from_epsg(4326).to_wkt(), encoding="utf-8")
    refused(3, "harvest", *asked(road(tmp_path)), "--canopy", path)


def test_an_archive_is_not_looked_into(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "trees.zip", "w") as archive:
        archive.write(raster(tmp_path / "trees.tif", "EPSG:4326", NEAR), "../../trees.tif")
    drive = asked(road(tmp_path))
    for name in (tmp_path / "trees.zip", f"/vsizip/{tmp_path / 'trees.zip'}/../../trees.tif", "/vsistdin/"):
        refused(3, "harvest", *drive, "--canopy", name)


def test_a_five_metre_raster_of_heights_may_lie_in_utm(tmp_path: Path) -> None:
    # The map's scale at the zone's edge makes cells of 5.000 m 4.995 to 5.002 m of ground.
    (east,), (north,) = transform("EPSG:4326", "EPSG:32755", [147.0], [-42.0])
    path = tmp_path / "heights.tif"
    profile = {"driver": "GTiff", "width": 200, "height": 500, "count": 1, "dtype": "float32"}
    place = cells(east - 500, north + 1500, 5)
    with rasterio.open(path, "w", **profile, crs="EPSG:32755", transform=place) as made:
        made.write(np.full((500, 200), 12, dtype="float32"), 1)
    drive = asked(road(tmp_path, length_km=1.0, camp_km=0.5))
    assert run("harvest", *drive, "--sky", "clear", "--canopy-height", path).code == 0


NAME = "a" * 5000


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (3, ["harvest", f"{NAME}.gpx", "--panel", "200W"]),
        (3, ["harvest", f"{NAME}.toml"]),
        (3, ["rig", NAME]),
        (3, ["harvest", "ROAD", "--canopy", NAME]),
        (3, ["harvest", "ROAD", "--weather", NAME]),
        (3, ["harvest", "ROAD", "-o", NAME]),
        (2, ["harvest", "ROAD", "--depart", "2026-10-04 02:30"]),  # the clock of Tasmania skips it
        (2, ["harvest", "ROAD", "--depart", "0001-01-01 00:00"]),
        (2, ["departures", "ROAD", "--date", "9999-12-31"]),
    ],
)
def test_requests_that_ended_as_faults_are_refused_in_words(
    tmp_path: Path, code: int, words: list[str]
) -> None:
    drive = asked(road(tmp_path))
    said = [part for word in words for part in (drive if word == "ROAD" else [word])]
    assert run(*said).code == code


@pytest.mark.parametrize("year", ["0001", "9999"])
@pytest.mark.parametrize("zone", ["Z", "+14:00", "-14:00"])
def test_times_of_other_ages_are_left_out(tmp_path: Path, year: str, zone: str) -> None:
    when = "-01-01T00:00" if year == "0001" else "-12-31T23:59"
    points = [point(-42 - n / 100, 147, f"<time>{year}{when}:0{n}{zone}</time>") for n in range(4)]
    (tmp_path / "old.gpx").write_text(gpx(track(*points)), encoding="utf-8")
    assert "no recorded times" in refused(2, "harvest", tmp_path / "old.gpx", "--panel", "200W")
    assert "time of 4 of 4 points is unusable" in run("route", *asked(tmp_path / "old.gpx")).err.replace(
        "\n  ", " "
    )
