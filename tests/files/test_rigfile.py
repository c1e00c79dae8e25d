import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.errors import InputError, UsageError
from routesolar.files.rigfile import commented_rig, panel_only_rig, read_rig
from routesolar.trip.rig import Battery, Controller, Panel, Rig

SURVEY_VAN = """
[vehicle]
name = "survey van"
roof_height_m = 2.4

[[panel]]
name = "roof"
rated_w = 220
length_m = 1.30
width_m = 0.80
temperature_coefficient_pct_per_c = -0.34
mounting = "flush"
[[panel]]
rated_w = 100
use = "stopped"
aim = "sun"
aim_every = "30min"

[controller]
efficiency_curve = [[0.1, 0.9], [1, 0.97]]
max_input_a = 25
[losses]
soiling_frac = 0.05
[battery]
capacity_wh = 2000
kind = "lead"
max_charge_w = 900
[alternator]
charge_w = 300
yields_first = "solar"
[[load]]
name = "sample freezer"
power_w = 45
[[load]]
name = "cooker"
power_w = 800
when = "18:00-18:40"
[[roof_box]]
length_m = 1.5
width_m = 0.8
height_m = 0.4
forward_m = 1.4
"""


def read(folder: Path, text: str) -> Rig:
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    return read_rig(path)


def refusal(folder: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        read(folder, text)
    assert caught.value.exit_code == 3
    return str(caught.value)


def test_a_whole_rig_is_read(tmp_path: Path) -> None:
    rig = read(tmp_path, SURVEY_VAN)
    assert (rig.name, rig.roof_height_m, rig.soiling_frac, rig.wiring_frac) == ("survey van", 2.4, 0.05, 0.02)
    roof, loose = rig.panels
    assert (roof.rated_w, roof.length_m, roof.mounting, roof.aim) == (220.0, 1.3, "flush", "fixed")
    assert (loose.use, loose.aim, loose.aim_every_s, loose.bypass_blocks) == ("stopped", "sun", 1800.0, 3)
    assert rig.controller == Controller(efficiency_curve=((0.1, 0.9), (1.0, 0.97)), max_input_a=25.0)
    assert rig.battery == Battery(capacity_wh=2000.0, kind="lead", max_charge_w=900.0)
    assert rig.alternator is not None
    assert rig.alternator.yields_first == "solar"
    assert [load.name for load in rig.loads] == ["sample freezer", "cooker"]
    assert rig.loads[1].windows_s == ((64800.0, 67200.0),)
    assert rig.roof_boxes[0].forward_m == 1.4


def test_a_rating_alone_is_a_rig_with_the_stated_defaults(tmp_path: Path) -> None:
    rig = read(tmp_path, "[[panel]]\nrated_w = 200\n")
    assert rig == panel_only_rig(200.0) == Rig(panels=(Panel(rated_w=200.0),))
    panel = rig.panels[0]
    # The defaults are a promise of the command's documentation.
    assert (panel.tilt_deg, panel.mounting, panel.temperature_coefficient_pct_per_c) == (0.0, "air-gap", -0.35)
    assert (rig.controller.efficiency_frac, rig.input_limit_w) == (0.97, float("inf"))
    assert (rig.soiling_frac, rig.wiring_frac, rig.battery) == (0.03, 0.02, None)


def test_every_mistake_is_told_at_once_in_the_files_own_words(tmp_path: Path) -> None:
    said = refusal(
        tmp_path,
        """
[[panel]]
rated_watts = 200
tilt_deg = 120
mounting = "glued"
[controller]
efficiency_frac = 21
[battery]
capacity_wh = 0
[[load]]
power_w = -40
when = "18h"
""",
    )
    for part in (
        "8 things are wrong",
        "[[panel]] 1, rated_w: this key is required and is missing (watts)",
        "[[panel]] 1, rated_watts: unknown key; did you mean rated_w?",
        "tilt_deg is 120: should be from 0 to 90",
        "'air-gap' or 'flush'",
        "[controller], efficiency_frac is 21: should be from 0.3 to 1; no device gives more than it takes",
        "[battery], capacity_wh is 0: should be from 1",
        "[[load]] 1, power_w is -40: should be from 0",
        '[[load]] 1, when is "18h": write always, driving, stopped, or clock times',
    ):
        assert part in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[vehicle]\nname = 'x'\n", "panel: this key is required"),
        ("[panel]\nrated_w = 200\n", "write [[panel]] with double brackets"),
        ("[[panel]]\nrated_w = '200'\n", "number"),
        ("[[panel]]\nrated_w = inf\n", "finite"),
        ("[[panel]]\nrated_w = true\n", "number"),
        ("[[panel]]\nrated_w = 440\nlength_m = 1\nwidth_m = 1\n", "440 W/m2"),
        ("[[panel]]\nrated_w = 200\nbypass_blocks = 2.5\n", "integer"),
        ("[[panel]]\nrated_w = 200\naim = 'sun'\n", 'use = "stopped"'),
        ("[[panel]]\nrated_w = 200\naim_every = '60'\n", '"60min"'),
        ("[[panel]]\nrated_w = 200\naim_every = '0min'\n", "between a second and a day"),
        ("[[panel]]\nrated_w = 200\n[[load]]\npower_w = 5\n", "[[load]] without a battery"),
        ("[[panel]]\nrated_w = 200\n[alternator]\ncharge_w = 5\n", "[alternator] without a battery"),
        (
            "[[panel]]\nrated_w = 200\n[[roof_box]]\nlength_m = 1\nwidth_m = 1\nheight_m = 1\n",
            "needs length_m and width_m",
        ),
        ("[[panel]]\nrated_w = 200\n[controller]\nstart_up_w = 90\nmax_input_w = 80\n", "would never start"),
        (
            "[[panel]]\nrated_w = 200\n[controller]\nefficiency_frac = 0.9\nefficiency_curve = [[1, 0.9]]\n",
            "keep one of them",
        ),
        (
            "[[panel]]\nrated_w = 200\n[controller]\nefficiency_curve = [[1, 0.9], [0.5, 0.9]]\n",
            "loads must rise",
        ),
        ("[[panel]]\nrated_w = 200\n[controller]\nefficiency_curve = [[1, 90]]\n", "both at most 1"),
        ("[[panel]]\nrated_w = 200\n[controller]\nefficiency_curve = [[1]]\n", "at least 2 items"),
        ("[[panel]]\nrated_w = 200\n[battery]\ncapacity_wh = 10\nparasitic_w = 9\n", "never be charged"),
        (
            "[[panel]]\nrated_w = 200\n[battery]\ncapacity_wh = 900\n"
            "[[load]]\nname = 'tv'\npower_w = 5\nwhen = '18:00-20:00'\n"
            "[[load]]\nname = 'tv'\npower_w = 5\nwhen = '19:00-21:00'\n",
            '"tv" appears twice with overlapping clock times',
        ),
        ("[[panel]]\nrated_w = 200\n[losses]\nsoiling_frac = 3\n", "a share: write 21 % as 0.21"),
        ("[[panel]]\nrated_w = 200\nmax_input_w = 3\n", "it belongs in [controller]"),
    ],
)
def test_a_rig_that_cannot_be_is_refused_with_advice(tmp_path: Path, text: str, said: str) -> None:
    assert said in refusal(tmp_path, text)


def test_two_loads_of_one_name_at_different_times_are_fine(tmp_path: Path) -> None:
    rig = read(
        tmp_path,
        "[[panel]]\nrated_w = 200\n[battery]\ncapacity_wh = 900\n"
        "[[load]]\nname = 'kettle'\npower_w = 500\nwhen = '07:00-07:10'\n"
        "[[load]]\nname = 'kettle'\npower_w = 900\nwhen = '18:00-18:10'\n",
    )
    assert len(rig.loads) == 2


def test_the_commented_rig_reads_as_it_stands(tmp_path: Path) -> None:
    rig = read(tmp_path, commented_rig())
    assert [panel.rated_w for panel in rig.panels] == [200.0]
    assert rig.battery is not None
    assert [load.name for load in rig.loads] == ["fridge", "lights"]


def test_each_commented_key_can_be_uncommented_and_shows_its_default(tmp_path: Path) -> None:
    text = commented_rig()
    plain = read(tmp_path, text)
    keys = re.findall(r"^#(\w+ = .*)$", text, re.M)
    assert len(keys) > 30
    everything = read(tmp_path, re.sub(r"^#(?=[\w\[])", "", text, flags=re.M))
    assert [panel.name for panel in everything.panels] == ["roof", "flexible", "folding"]
    # What has no default is the only difference.
    roof, default = everything.panels[0], plain.panels[0]
    assert (roof.length_m, roof.width_m) == (1.3, 0.8)
    for name in Panel.__dataclass_fields__:
        if name not in ("length_m", "width_m"):
            assert getattr(roof, name) == getattr(default, name), name
    for name in Battery.__dataclass_fields__:
        if name != "temperature_c":
            assert getattr(everything.battery, name) == getattr(plain.battery, name), name
    assert everything.controller.efficiency_frac == plain.controller.efficiency_frac
    assert (everything.soiling_frac, everything.wiring_frac) == (plain.soiling_frac, plain.wiring_frac)
    assert everything.alternator is not None
    assert everything.alternator.efficiency_frac == plain.alternator.efficiency_frac


def test_the_commented_rig_names_every_key_of_the_equipment() -> None:
    text = commented_rig()
    fields = [*Panel.__dataclass_fields__, *Battery.__dataclass_fields__, *Controller.__dataclass_fields__]
    for name in fields:
        assert re.search(rf"^#*{name.removesuffix('_s') if name == 'aim_every_s' else name} = ", text, re.M), (
            name
        )


@pytest.mark.parametrize("rated_w", [0.0, -200.0, float("nan"), 1e9])
def test_an_impossible_panel_on_the_command_line_is_a_usage_error(rated_w: float) -> None:
    with pytest.raises(UsageError, match="200W") as caught:
        panel_only_rig(rated_w)
    assert caught.value.exit_code == 2


@given(st.text(max_size=200))
def test_arbitrary_text_never_ends_in_anything_but_an_input_error(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.mktemp("rig") / "rig.toml"
    path.write_text(text, encoding="utf-8", errors="replace")
    with pytest.raises(InputError):
        read_rig(path)


def test_names_lose_control_characters(tmp_path: Path) -> None:
    assert read(tmp_path, '[vehicle]\nname = "a\\u001bb"\n[[panel]]\nrated_w = 200\n').name == "a b"
