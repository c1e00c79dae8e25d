"""The first words where nothing is said of trees: the numbers are those of an open road."""

from collections.abc import Sequence

from routesolar.trip.drawable import Drawable


def first_said(sentence: str, drives: Sequence[Drawable]) -> str:
    """Return a sentence, with "On an open road" before it where trees and buildings are not known."""
    return on_open_road(sentence) if all_open(drives) else sentence


def on_open_road(sentence: str, where: str = "On an open road") -> str:
    """Return a sentence of an open road, or of another open place."""
    return f"{where}, {sentence[0].lower()}{sentence[1:]}"


def all_open(drives: Sequence[Drawable]) -> bool:
    """Return whether no drive has trees, buildings or a shade of its own; False where no drive is known."""
    around = [drive.around for drive in drives]
    return bool(around) and all(
        one.canopy.is_open and one.terrain.buildings is None and one.shade is None for one in around
    )
