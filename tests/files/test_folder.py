"""A result folder is written whole or not at all, and nothing else is ever lost."""

import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from routesolar.errors import OutputError
from routesolar.files.folder import check_folder, write_file, write_folder

ROOT = Path(__file__).parents[2]

OURS = {"result.json": b'{"schema": "routesolar.harvest/1"}', "legs.csv": b"leg\n"}
NEWER = {"result.json": b'{"schema": "routesolar.harvest/1", "newer": 1}'}


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_new_folder_is_made_with_its_parents(tmp_path):
    write_folder(tmp_path / "a" / "b", OURS, force=False)
    assert contents(tmp_path / "a" / "b") == OURS
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["b"]


def test_an_existing_folder_is_kept_without_force(tmp_path):
    write_folder(tmp_path / "out", OURS, force=False)
    with pytest.raises(OutputError, match="--force"):
        write_folder(tmp_path / "out", NEWER, force=False)
    assert contents(tmp_path / "out") == OURS


def test_force_replaces_our_own_result_wholly(tmp_path):
    write_folder(tmp_path / "out", OURS, force=False)
    write_folder(tmp_path / "out", NEWER, force=True)
    assert contents(tmp_path / "out") == NEWER
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "stranger",
    [
        {"holiday.jpg": b"x", "result.json": OURS["result.json"]},
        {"legs.csv": b"mine"},
        {"result.json": b"not json"},
        {"result.json": b'{"schema": "other/1"}'},
        {"result.json": b'["routesolar."]'},
    ],
    ids=["foreign file", "no result", "no json", "other schema", "a list"],
)
def test_force_never_replaces_what_is_not_ours(tmp_path, stranger):
    folder = tmp_path / "out"
    folder.mkdir()
    for name, content in stranger.items():
        (folder / name).write_bytes(content)
    with pytest.raises(OutputError):
        write_folder(folder, NEWER, force=True)
    assert contents(folder) == stranger


def test_force_does_not_replace_a_folder_with_a_folder_or_link_inside(tmp_path):
    for number, make in enumerate((Path.mkdir, lambda path: path.symlink_to(tmp_path))):
        folder = tmp_path / f"out{number}"
        write_folder(folder, {"result.json": OURS["result.json"]}, force=False)
        make(folder / "map.png")
        with pytest.raises(OutputError, match=r"map\.png"):
            write_folder(folder, NEWER, force=True)


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(OutputError, match="is a file"):
        write_folder(tmp_path / "out", OURS, force=True)
    assert (tmp_path / "out").read_text() == "mine"


def test_a_disk_that_refuses_leaves_the_old_result_and_no_litter(tmp_path, monkeypatch):
    write_folder(tmp_path / "out", OURS, force=False)
    honest = Path.write_bytes

    def full_disk(path, data):
        if path.name == "map.png":
            raise OSError(28, "No space left on device")
        return honest(path, data)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OutputError, match="No space left"):
        write_folder(tmp_path / "out", NEWER | {"map.png": b""}, force=True)
    assert contents(tmp_path / "out") == OURS
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


class Killed(BaseException):
    pass


@pytest.mark.parametrize("moves_done", [0, 1, 2])
def test_a_swap_killed_at_any_move_is_mended_by_the_next_run(tmp_path, monkeypatch, moves_done):
    write_folder(tmp_path / "out", OURS, force=False)
    move, moved = Path.rename, []

    def killed(path, target):
        if len(moved) == moves_done:
            raise Killed
        moved.append(move(path, target))
        return moved[-1]

    with monkeypatch.context() as broken:
        # A killed process runs no clean-up either.
        broken.setattr(Path, "rename", killed)
        broken.setattr("routesolar.files.folder.shutil.rmtree", lambda *a, **k: None)
        try:
            write_folder(tmp_path / "out", NEWER, force=True)
        except Killed:
            assert moves_done < 2
    with pytest.raises(OutputError, match="exists already"):
        write_folder(tmp_path / "out", {}, force=False)
    assert contents(tmp_path / "out") == (NEWER if moves_done == 2 else OURS)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_folder_reached_through_a_link_is_replaced_where_it_lies(tmp_path):
    write_folder(tmp_path / "real", OURS, force=False)
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_folder(tmp_path / "link", NEWER, force=True)
    assert contents(tmp_path / "real") == NEWER
    assert (tmp_path / "link").is_symlink()


def test_the_top_of_the_disk_is_not_a_folder_to_replace():
    with pytest.raises(OutputError, match="root of the disk"):
        write_folder(Path("/"), OURS, force=True)


@pytest.mark.parametrize("name", ["x" * 300, "file/inside", "circle"], ids=["too long", "in a file", "circle"])
def test_a_place_that_cannot_be_is_a_clear_error(tmp_path, name):
    (tmp_path / "file").write_text("mine")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    with pytest.raises(OutputError, match="-o"):
        write_folder(tmp_path / name, OURS, force=True)
    assert (tmp_path / "file").read_text() == "mine"


def test_an_empty_folder_is_as_good_as_none(tmp_path):
    (tmp_path / "out").mkdir()
    check_folder(tmp_path / "out", force=False)
    write_folder(tmp_path / "out", OURS, force=False)
    assert contents(tmp_path / "out") == OURS


def test_a_folder_that_would_be_refused_is_refused_before_work_is_done(tmp_path):
    write_folder(tmp_path / "out", OURS, force=False)
    with pytest.raises(OutputError, match="--force"):
        check_folder(tmp_path / "out", force=False)
    check_folder(tmp_path / "out", force=True)
    check_folder(tmp_path / "new" / "deep", force=False)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


WRITER = """
import sys
from pathlib import Path
from routesolar.files.folder import write_folder
mark = sys.argv[2]
for turn in range(60):
    result = ('{"schema": "routesolar.harvest/1", "by": "%s%d"}' % (mark, turn)).encode()
    contents = dict.fromkeys(["result.json", "legs.csv", "page.html"], result)
    write_folder(Path(sys.argv[1]), contents, force=True)
"""


def test_two_runs_into_one_folder_leave_one_of_them_whole(tmp_path):
    runs = [
        subprocess.Popen([sys.executable, "-c", WRITER, tmp_path / "out", mark], cwd=ROOT) for mark in "abc"
    ]
    seen = 0
    while any(run.poll() is None for run in runs):
        with suppress(FileNotFoundError):
            seen += len({(tmp_path / "out" / "result.json").read_bytes()})
    assert [run.wait() for run in runs] == [0, 0, 0]
    assert len(set(contents(tmp_path / "out").values())) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert seen


@pytest.fixture
def heard():
    """SIGINT as a terminal's programs have it: those started in the background ignore it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("heard")
def test_an_interruption_is_heard_when_the_folder_is_whole(tmp_path, monkeypatch):
    write_folder(tmp_path / "out", OURS, force=False)
    move = Path.rename

    def interrupted(path, target):
        signal.raise_signal(signal.SIGINT)
        return move(path, target)

    monkeypatch.setattr(Path, "rename", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "out", NEWER, force=True)
    assert contents(tmp_path / "out") == NEWER
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_file_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    write_file(tmp_path / "rig.toml", b"old")

    def full_disk(path, data):
        with path.open("wb") as file:
            file.write(data[:1])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OutputError, match="No space left"):
        write_file(tmp_path / "rig.toml", b"new")
    assert contents(tmp_path) == {"rig.toml": b"old"}
