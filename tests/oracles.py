"""Values from outside the project, kept in tests/published/*.csv with where they come from.

`how_known` says how a value got into the file: "seen" (read in the source named), "memory" (from memory of
the source, not read again) or "calculated" (from the source's equation, by the library named).
"""

import csv
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).parent / "published"
HOW_KNOWN = frozenset({"seen", "memory", "calculated"})


class Published(NamedTuple):
    """One value, with the inputs it belongs to; the tolerance is in the value's own unit."""

    quantity: str
    inputs: dict[str, float]
    value: float
    unit: str
    tolerance: float
    how_known: str
    source: str

    def __str__(self) -> str:
        inputs = " ".join(f"{name}={value:g}" for name, value in self.inputs.items())
        return f"{self.quantity} {inputs}"


def published(file: str, quantity: str | None = None) -> list[Published]:
    """Return all rows of a file, or those of one quantity."""
    with (FOLDER / file).open(encoding="utf-8", newline="") as rows:
        found = [_published(row) for row in csv.DictReader(rows)]
    found = [row for row in found if quantity in (None, row.quantity)]
    assert found, f"{file} has no {quantity}"
    return found


def _published(row: dict[str, str]) -> Published:
    assert row["how_known"] in HOW_KNOWN, row
    inputs = dict(pair.split("=") for pair in row["inputs"].split())
    return Published(
        row["quantity"],
        {name: float(value) for name, value in inputs.items()},
        float(row["value"]),
        row["unit"],
        float(row["tolerance"]),
        row["how_known"],
        row["source"],
    )
