"""Results show themselves where a notebook runs; what draws them is loaded with the first of them."""

import sys
from importlib import import_module

_SHOWN = {
    "routesolar.trip.harvest": "Harvest",
    "routesolar.trip.sweep": "Sweep",
    "routesolar.decisions.calendar": "YearCalendar",
    "routesolar.decisions.compare": "Comparison",
    "routesolar.decisions.departures": "Departures",
    "routesolar.decisions.park": "Parking",
    "routesolar.decisions.size": "Sizing",
}


def register() -> None:
    """Tell a running IPython how results look; nothing happens where there is none."""
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    if shell is None:
        return
    formatter = shell.display_formatter.formatters["text/html"]
    for module, noun in _SHOWN.items():
        formatter.for_type_by_name(module, noun, _html)


def _html(result: object) -> str:
    html: str = import_module("routesolar.report.notebook").notebook_html(result)
    return html
