"""Results in a notebook: they show themselves, and importing the package stays light."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from hostile_names import HOSTILE
from page_text import Page, html_text
from sample_decisions import departing_watts, ranked, side_by_side
from sample_harvest import winding_harvest
from sample_parking import lattice_parking

from routesolar.report.in_notebooks import register
from routesolar.report.notebook import notebook_html


class Formatter:
    """As IPython's formatters do it: functions by the name of a type, found along its ancestors."""

    def __init__(self):
        self.by_name = {}

    def for_type_by_name(self, type_module, type_name, func):
        self.by_name[type_module, type_name] = func

    def __call__(self, thing):
        names = [(kind.__module__, kind.__name__) for kind in type(thing).__mro__]
        return next((self.by_name[name](thing) for name in names if name in self.by_name), None)


@pytest.fixture
def formatter(monkeypatch):
    """A notebook that has just imported the package."""
    formatter = Formatter()
    display = ModuleType("display")
    display.formatters = {"text/html": formatter}
    shell = ModuleType("shell")
    shell.display_formatter = display
    ipython = ModuleType("IPython")
    ipython.get_ipython = lambda: shell
    with monkeypatch.context() as while_importing:  # drawing libraries look at IPython themselves
        while_importing.setitem(sys.modules, "IPython", ipython)
        register()
    return formatter


def results():
    comparison, _ = side_by_side()
    return {
        "harvest": winding_harvest(),
        "departures": ranked(departing_watts()),
        "comparison": comparison,
        "parking": lattice_parking(),
    }


@pytest.mark.parametrize("name", ["harvest", "departures", "comparison", "parking"])
def test_results_show_themselves(formatter, name):
    page = Page(formatter(results()[name]))
    words = html_text(page)
    assert " Wh" in words.replace("\u00a0", " ")
    assert "table" in [tag for tag, _ in page.elements]
    assert {"img", "svg"} & {tag for tag, _ in page.elements}
    assert not page.within("script")
    assert not [name for _, attributes in page.elements for name in attributes if name.startswith("on")]


def test_a_harvest_tells_its_energy_and_legs(formatter):
    harvest = winding_harvest()
    page = Page(formatter(harvest))
    assert f"Expect {harvest.totals.energy_wh:.0f} Wh" in html_text(page).replace("\u00a0", " ")
    assert page.shown_in("th")[5:] == [f"{leg.leg} {leg.name}" for leg in harvest.legs]


def test_a_long_harvest_stays_small(formatter):
    assert len(formatter(winding_harvest(20_000))) < 150_000


def test_a_long_table_says_how_much_is_left_out(formatter):
    words = html_text(Page(formatter(ranked(departing_watts(60, 61)))))
    assert "and 49 more rows" in words


@pytest.mark.parametrize("name", [name for name in HOSTILE.values() if name], ids=filter(HOSTILE.get, HOSTILE))
def test_hostile_names_change_no_element(formatter, name):
    harvest = winding_harvest(60)
    named = replace(harvest, legs=tuple(replace(leg, name=name) for leg in harvest.legs), warnings=(name,))
    assert Page(formatter(named)).skeleton == Page(formatter(harvest)).skeleton


def test_other_things_have_no_picture():
    with pytest.raises(TypeError, match="int cannot be drawn"):
        notebook_html(3)


def test_nothing_is_registered_and_nothing_heavy_loaded_without_a_notebook(monkeypatch):
    monkeypatch.setitem(sys.modules, "IPython", ModuleType("IPython"))  # loaded, but no shell runs
    register()


def test_importing_within_a_notebook_loads_nothing_heavy():
    code = (
        "import sys; from types import ModuleType, SimpleNamespace as S\n"
        "seen = []\n"
        "html = S(for_type_by_name=lambda module, name, func: seen.append(name))\n"
        "sys.modules['IPython'] = ModuleType('IPython')\n"
        "sys.modules['IPython'].get_ipython = lambda: S(display_formatter=S(formatters={'text/html': html}))\n"
        "import routesolar\n"
        "assert 'Harvest' in seen and 'Departures' in seen\n"
        "print(*[m for m in ('numpy', 'matplotlib', 'folium', 'numba', 'jinja2') if m in sys.modules])"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
