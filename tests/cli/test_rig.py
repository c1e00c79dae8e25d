"""`routesolar rig`: a rig file to start from, and the check of one."""

from pathlib import Path

from terminal import asked, refused, road, run

from routesolar.files.rigfile import read_rig


def test_without_a_name_the_file_is_printed_and_nothing_written(tmp_path: Path) -> None:
    ran = run("rig")
    assert (ran.code, ran.err) == (0, "")
    assert "[[panel]]" in ran.out
    path = tmp_path / "van.toml"
    path.write_text(ran.out, encoding="utf-8")
    assert read_rig(path).rated_w > 0


def test_a_new_name_is_written_and_an_old_one_checked_but_never_changed(tmp_path: Path) -> None:
    path = tmp_path / "van.toml"
    assert "written" in run("rig", path).out
    assert path.read_text(encoding="utf-8") == run("rig").out
    path.write_text("[[panel]]\nrated_w = 220\n", encoding="utf-8")
    ran = run("rig", path)
    assert (ran.code, ran.err) == (0, "")
    assert "220 W" in ran.out
    assert path.read_text(encoding="utf-8") == "[[panel]]\nrated_w = 220\n"


def test_mistakes_are_listed_with_their_places(tmp_path: Path) -> None:
    path = tmp_path / "van.toml"
    path.write_text("[[panel]]\nrated_w = -1\n[losses]\nsoilin_frac = 2\n", encoding="utf-8")
    message = refused(3, "rig", path)
    assert "van.toml: 2 things are wrong" in message
    assert "did you mean soiling_frac?" in message


def test_what_cannot_be_read_or_written_is_refused(tmp_path: Path) -> None:
    assert "folder" in refused(3, "rig", tmp_path)
    assert "cannot be written" in refused(3, "rig", tmp_path / "nowhere" / "van.toml")
    assert "TOML" in refused(3, "rig", road(tmp_path))


def test_the_written_rig_drives(tmp_path: Path) -> None:
    path = tmp_path / "van.toml"
    run("rig", path)
    words = asked(road(tmp_path))
    ran = run("harvest", words[0], "--rig", path, *words[3:], "--json")
    assert ran.code == 0, ran.err
    assert ran.json["totals"]["energy_wh"] > 0
