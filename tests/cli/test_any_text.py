"""Whatever text an option is given, the answer is a result or a refusal, never a fault of ours."""

import unicodedata
from dataclasses import fields

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from terminal import asked, road, run

from routesolar.cli.options import TripOptions

OPTIONS = [field.name.replace("_", "-") for field in fields(TripOptions) if field.name != "strict"]
# Near misses are worth more than noise: pieces of what may be said, put together anyhow.
PIECES = (
    "0 1 45 -1 . , : km km/h m/s min W C % auto clear okta nan inf 1e999 2026-02-30 12:00 Camp .tif /".split()
)
TEXTS = st.one_of(
    st.text(st.characters(), max_size=12),
    st.lists(st.sampled_from([*PIECES, " "]), max_size=5).map("".join),
)


@pytest.fixture(scope="module")
def drive(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    return asked(road(tmp_path_factory.mktemp("drive")))


@pytest.mark.parametrize("option", OPTIONS)
@example(text="long " * 400)
@settings(max_examples=10)
@given(text=TEXTS)
def test_no_text_for_an_option_is_a_fault_of_ours(drive: list[str], option: str, text: str) -> None:
    ran = run("harvest", *drive, f"--{option}={text}")
    assert ran.code in (0, 2, 3), ran.err
    assert (ran.code == 0) == bool(ran.out)
    assert "Traceback" not in ran.err
    # Nothing that steers a terminal: control characters, writing directions, line breaks in disguise.
    letters = set(ran.out + ran.err) - {"\n"}
    assert not {unicodedata.category(letter) for letter in letters} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
