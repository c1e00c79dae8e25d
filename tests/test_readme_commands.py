"""Every command in README's table of questions runs on the demo and answers."""

import re
import shlex
import sys
from pathlib import Path

import pytest

from routesolar import cli

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"\| `(routesolar [^`]+)` \|", README)


def test_the_table_of_questions_has_commands():
    assert len(COMMANDS) >= 8


@pytest.mark.compiled
@pytest.mark.parametrize("command", COMMANDS)
def test_the_command_answers(command, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(sys, "argv", shlex.split(command))
    with pytest.raises(SystemExit) as left:
        cli.main()
    shown = capsys.readouterr()
    assert left.value.code == 0, shown.err
    assert "Wh" in shown.out or "km" in shown.out
