"""Many drives: each is that of `routesolar harvest` to the last bit, and none is lost or doubled."""

import json
import multiprocessing
import os
import signal
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from terminal import ROOT, Ran, refused, road, run

import routesolar as rs
from routesolar.errors import OutputError
from routesolar.model import charge
from routesolar.studies.running import Progress

pq = pytest.importorskip("pyarrow.parquet")
ds = pytest.importorskip("pyarrow.dataset")

TRIP = """route = ["road.gpx"]
speed = "60km/h"
canopy_cover_pct = 45
[[stop]]
at = "Camp"
minutes = 30
"""
TILTED = """[vehicle]
name = "hut on wheels"
roof_height_m = 3.1
[[panel]]
name = "leaning"
rated_w = 180
tilt_deg = 20
facing_deg = 90
[battery]
capacity_wh = 600
[[load]]
name = "lamp"
power_w = 20
when = "always"
"""
STUDY = """routes = ["hills.toml", "plain.toml"]
rigs = ["tilted.toml", "200W"]
dates = 2026-09-21
departures = ["10:00", "15:30"]
skies = ["fair", "overcast"]
seasons = ["leaf-on", "leaf-off"]
"""
DRIVES = 2 * 2 * 1 * 2 * 2 * 2


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("files")
    road(folder, length_km=2.0, camp_km=1.0)
    for name, text in {
        "hills.toml": TRIP,
        "plain.toml": TRIP.replace("45", "0").replace("30", "12"),
        "tilted.toml": TILTED,
        "study.toml": STUDY,
    }.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def done(files: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Ran, Path]:
    into = tmp_path_factory.mktemp("done") / "out"
    with pytest.MonkeyPatch.context() as few:
        few.setattr(charge, "DAYS", charge.LEAST_DAYS)
        return run("study", files / "study.toml", "-o", into, "--workers", 1, "--json"), into


def rows_of(folder: Path, table: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = ds.dataset(folder / table).to_table().to_pylist()
    return rows


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def plain(value: Any) -> Any:
    """Return a value as JSON has it: times as instants, without columns that say nothing."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items() if item is not None}
    return (
        value.timestamp() if hasattr(value, "timestamp") else str(value) if isinstance(value, date) else value
    )


def instants(value: Any, *names: str) -> Any:
    from datetime import datetime

    return {
        key: datetime.fromisoformat(item).timestamp() if key in names and item else item
        for key, item in value.items()
        if item is not None
    }


def test_every_drive_is_that_of_harvest_to_the_last_bit(
    files: Path, done: tuple[Ran, Path], few_days: None
) -> None:
    ran, into = done
    assert ran.code == 0, ran.err
    drives = rows_of(into, "drives")
    which = ("route", "rig", "sky", "season", "depart_date", "depart_clock")
    assert len({tuple(row[name] for name in which) for row in drives}) == len(drives) == DRIVES
    legs, days = rows_of(into, "legs"), rows_of(into, "days")
    for row in drives[::5]:  # 7 of 32: every route, rig, sky, season, date and clock comes
        rig = ("--rig", files / "tilted.toml") if row["rig"] == "tilted" else ("--panel", row["rig"])
        when = f"{row['depart_date']} {row['depart_clock']}"
        words = ("--depart", when, "--sky", row["sky"], "--season", row["season"])
        alone = run("harvest", files / f"{row['route']}.toml", *rig, *words, "--json").json
        mine = {name: row[name] for name in which}
        totals = plain({key: row[key] for key in row if key in alone["totals"]})
        assert totals == plain(alone["totals"])
        assert row["warnings"] == alone["warnings"] and row["error"] is None
        battery = {key: value for key, value in alone.get("battery", {}).items() if key != "loads"}
        moments = [key for key in battery if key.startswith(("first", "lowest")) and not key.endswith("frac")]
        assert plain(row["battery"] or {}) == instants(battery, *moments)
        for table, key, times in (
            (legs, "legs", ("start", "end")),
            (days, "days", ("start", "end", "dawn", "dusk", "lowest")),
        ):
            found = [plain(one) for one in table if all(one[name] == mine[name] for name in which)]
            extra = {name: plain(mine[name]) for name in which} | {"departure": row["departure"].timestamp()}
            assert found == [extra | instants(one, *times) for one in alone[key]]


def test_times_bear_their_zone_and_tables_say_what_they_rest_on(done: tuple[Ran, Path]) -> None:
    _, into = done
    schema = pq.read_schema(into / "drives/hills/2026-09-21.parquet")
    assert schema.field("departure").type.tz == "Australia/Hobart"
    record = json.loads(schema.metadata[b"routesolar"])
    assert record["software"].startswith("routesolar ") and record["route"] == "hills"
    assert {name.split()[0] for name in record["made_of"]} >= {"software", "route", "rig", "sky"}


def test_the_summary_is_that_of_its_rows(done: tuple[Ran, Path]) -> None:
    ran, into = done
    energies = sorted(row["energy_wh"] for row in rows_of(into, "drives"))
    found = ran.json
    assert json.loads((into / "result.json").read_text(encoding="utf-8")) == found
    assert found["drives"] == DRIVES and found["failed"] == 0
    assert found["energy_mean_wh"] == pytest.approx(sum(energies) / DRIVES, rel=1e-12)
    for key, share in (("drives_low_wh", 0.1), ("drives_mid_wh", 0.5), ("drives_high_wh", 0.9)):
        # Classes are half a percent wide.
        assert found[key] == pytest.approx(energies[-(-int(share * DRIVES * 10) // 10) - 1], rel=0.003)
    assert [row["month"] for row in found["months"]] == ["09"]
    assert sum(row["drives"] for row in found["rows"]) == DRIVES
    page = (into / "page.html").read_text(encoding="utf-8")
    assert "32 drives bring" in page and "<script" not in page and "://" not in page


@pytest.fixture(scope="module")
def asked(files: Path) -> rs.Study:
    """Six parts of two drives each."""
    study = rs.read_study(files / "study.toml")
    return replace(
        study,
        rigs={"200W": study.rigs["200W"], "tilted": study.rigs["tilted"]},
        skies=("fair",),
        seasons=("leaf-on",),
        dates=(date(2026, 6, 21), date(2026, 9, 21), date(2026, 12, 21)),
        departures_s=(36_000.0,),
    )


@pytest.fixture(scope="module")
def here(asked: rs.Study, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """Return what these drives write where one process computes them all, without a break."""
    into = tmp_path_factory.mktemp("here") / "out"
    rs.study(asked, into)
    return contents(into)


class _StoppedError(Exception):
    pass


def test_what_is_finished_is_kept_and_the_rest_follows(
    asked: rs.Study, here: dict[str, bytes], tmp_path: Path
) -> None:
    heard: list[Progress] = []

    def stop_after_two(progress: Progress) -> None:
        heard.append(progress)
        if progress.done == 2:
            raise _StoppedError

    with pytest.raises(_StoppedError):
        rs.study(asked, tmp_path / "two", told=stop_after_two)
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "two").glob("drives/*/*.parquet")}
    assert len(before) == 2
    half = next(iter(before)).parents[2] / "drives/hills/2026-12-21.parquet"
    half.write_bytes(b"PAR1 not whole")  # no killed run of ours leaves this; a full disk elsewhere may
    rs.study(asked, tmp_path / "two", told=heard.append)
    assert heard[3] == Progress(0, 4, None) and heard[-1].done == 4
    assert {path: path.stat().st_mtime_ns for path in before} == before
    assert contents(tmp_path / "two") == here


def test_a_changed_rig_is_noticed_and_computed_anew_only_with_force(asked: rs.Study, tmp_path: Path) -> None:
    few = replace(asked, routes={"plain": asked.routes["plain"]}, dates=asked.dates[:1])
    summary = rs.study(few, tmp_path / "out")
    old = contents(tmp_path / "out")
    larger = rs.Rig(panels=(rs.Panel(rated_w=210.0),))
    other = replace(few, rigs=dict(few.rigs) | {"200W": larger})
    with pytest.raises(OutputError, match="rig 200W has changed"):
        rs.study(other, tmp_path / "out")
    with pytest.raises(OutputError, match="2026-06-21 is not asked for"):
        rs.study(replace(few, dates=asked.dates[1:2]), tmp_path / "out")
    assert contents(tmp_path / "out") == old
    again = rs.study(other, tmp_path / "out", force=True)
    assert again.whole.mean_wh > summary.whole.mean_wh
    assert len(rows_of(tmp_path / "out", "drives")) == 2


def test_a_folder_of_something_else_is_left_alone(asked: rs.Study, tmp_path: Path) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8")
    with pytest.raises(OutputError, match=r"photo\.jpg"):
        rs.study(asked, tmp_path, force=True)


def test_a_drive_that_fails_is_a_row_with_its_error(asked: rs.Study, tmp_path: Path) -> None:
    # Clocks in Tasmania skip 02:00 to 03:00 on the first Sunday of October (IANA time zone data).
    gap = replace(asked, dates=(date(2026, 10, 4),), departures_s=(9_000.0, 36_000.0))
    summary = rs.study(gap, tmp_path / "out")
    drives = rows_of(tmp_path / "out", "drives")
    failed = [row for row in drives if row["error"] is not None]
    assert (len(drives), len(failed), summary.failed) == (8, 4, 4)
    assert all("does not exist in Australia/Hobart" in row["error"] for row in failed)
    assert all(row["energy_wh"] is None and row["depart_clock"] == "02:30" for row in failed)


def test_a_study_in_which_every_drive_fails_says_so(files: Path, tmp_path: Path) -> None:
    text = STUDY.replace("2026-09-21", "2026-10-04").replace('["10:00", "15:30"]', '"02:30"')
    (files / "gap.toml").write_text(text, encoding="utf-8")
    ran = run("study", files / "gap.toml", "-o", tmp_path / "out", "--workers", 1)
    assert ran.code == 3 and "none of the drives could be computed" in ran.err


def test_processes_give_the_same_and_one_that_is_killed_takes_nothing_along(
    asked: rs.Study, here: dict[str, bytes], tmp_path: Path
) -> None:
    killed: list[int] = []

    def kill_one(progress: Progress) -> None:
        if progress.done == 1 and not killed:
            child = multiprocessing.active_children()[0]
            killed.append(child.pid or 0)
            os.kill(killed[0], signal.SIGKILL)

    rs.study(asked, tmp_path / "there", workers=2, told=kill_one)
    assert killed and contents(tmp_path / "there") == here


@pytest.fixture
def cluster(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, silence_logs=50
    ) as made:
        yield made


@pytest.mark.filterwarnings("ignore")  # of the library's own event loops
def test_a_cluster_gives_the_same_and_a_worker_that_is_killed_takes_nothing_along(
    asked: rs.Study, here: dict[str, bytes], tmp_path: Path, cluster: Any
) -> None:
    killed: list[int] = []

    def kill_one(progress: Progress) -> None:
        if progress.done == 1 and not killed:
            killed.append(next(iter(cluster.workers.values())).pid)
            os.kill(killed[0], signal.SIGKILL)

    rs.study(asked, tmp_path / "there", cluster=cluster.scheduler_address, told=kill_one)
    assert killed and contents(tmp_path / "there") == here


def test_no_cluster_is_told_in_a_sentence(asked: rs.Study, tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(rs.UsageError, match="give the address"):
        rs.study(asked, tmp_path / "out", cluster="nonsense://nowhere")
    assert refused(
        2, "study", ROOT / "demo_routes/year.toml", "-o", tmp_path / "a", "--workers", 2, "--cluster", "x"
    )


def test_a_drive_of_the_demo_is_that_of_its_trip_file(tmp_path: Path) -> None:
    year = rs.read_study(ROOT / "demo_routes/year.toml")
    few = replace(
        year,
        routes={"coast": year.routes["coast"]},
        rigs={"100W": year.rigs["100W"]},
        dates=year.dates[-1:],
        departures_s=year.departures_s[:1],
        skies=("fair",),
    )
    rs.study(few, tmp_path / "out")
    (row,) = rows_of(tmp_path / "out", "drives")
    words = ("--panel", "100W", "--sky", "fair", "--depart", f"{few.dates[0]} 08:00", "--json")
    alone = run("harvest", ROOT / "demo_routes/coast.toml", *words).json
    assert row["energy_wh"] == alone["totals"]["energy_wh"] > 0
