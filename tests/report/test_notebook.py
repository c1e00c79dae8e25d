"""Results in a notebook: they show themselves, and importing the package stays light."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hostile_names import HOSTILE
from page_text import Page, html_text
from sample_decisions import departing_watts, ranked, side_by_side
from sample_harvest import winding_harvest
from sample_parking import lattice_parking

from routesolar.report.notebook import notebook_html


def results():
    comparison, _ = side_by_side()
    return {
        "harvest": winding_harvest(),
        "departures": ranked(departing_watts()),
        "comparison": comparison,
        "parking": lattice_parking(),
    }


@pytest.mark.parametrize("name", ["harvest", "departures", "comparison", "parking"])
def test_results_show_themselves(name):
    page = Page(results()[name]._repr_html_())
    words = html_text(page)
    assert " Wh" in words.replace("\u00a0", " ")
    assert "table" in [tag for tag, _ in page.elements]
    assert {"img", "svg"} & {tag for tag, _ in page.elements}
    assert not page.within("script")
    assert not [name for _, attributes in page.elements for name in attributes if name.startswith("on")]


def test_a_harvest_tells_its_energy_and_legs():
    harvest = winding_harvest()
    page = Page(harvest._repr_html_())
    assert f"Expect {harvest.totals.energy_wh:.0f} Wh" in html_text(page).replace("\u00a0", " ")
    assert page.shown_in("th")[5:] == [f"{leg.leg} {leg.name}" for leg in harvest.legs]


def test_a_long_harvest_stays_small():
    assert len(winding_harvest(20_000)._repr_html_()) < 150_000


def test_a_long_table_says_how_much_is_left_out():
    words = html_text(Page(ranked(departing_watts(60, 61))._repr_html_()))
    assert "and 49 more rows" in words


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_names_change_no_element(name):
    harvest = winding_harvest(60)
    named = replace(harvest, legs=tuple(replace(leg, name=name) for leg in harvest.legs), warnings=(name,))
    assert Page(named._repr_html_()).skeleton == Page(harvest._repr_html_()).skeleton


def test_other_things_have_no_picture():
    with pytest.raises(TypeError, match="int cannot be drawn"):
        notebook_html(3)


@pytest.mark.parametrize("name", ["harvest", "departures", "comparison", "parking"])
def test_what_stands_in_plain_text_is_a_few_lines(name):
    assert len(repr(results()[name])) <= 400


def test_importing_within_a_notebook_registers_nothing_and_loads_nothing_heavy():
    code = (
        "import sys; from types import ModuleType\n"
        "sys.modules['IPython'] = ipython = ModuleType('IPython')\n"
        "def asked(): raise AssertionError('the shell was asked for')\n"
        "ipython.get_ipython = asked\n"
        "import routesolar; routesolar.Harvest\n"
        "print(*[m for m in ('matplotlib', 'folium', 'jinja2') if m in sys.modules])"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
