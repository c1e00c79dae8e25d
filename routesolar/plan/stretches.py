"""Stretches of the road as the page says and shows them: from where to where, and what trees stand there."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from routesolar.errors import UsageError
from routesolar.files import values, wording
from routesolar.trip.route import Stretch

MOST = 200


def stretches_stated(said: Any, kept: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Return stretches: those of a trip by number, changed as said, and new ones.

    Each says `from` and `to` in km, and as text `cover` in percent, `height` and `width` in metres, empty for
    what holds on the whole road; and whether it is `roofed`.

    Raises:
        UsageError: something makes no sense; the message begins with the stretch's letter.
    """
    if not isinstance(said, list) or len(said) > MOST or not all(isinstance(one, dict) for one in said):
        raise UsageError("the page sent something else than a list of stretches")
    return tuple(_named(number, one, kept) for number, one in enumerate(said))


def letter_of(number: int) -> str:
    """Return what a stretch is called on the page: A to Z, then A2."""
    turn, letter = divmod(number, 26)
    return f"{chr(ord('A') + letter)}{turn + 1 if turn else ''}"


def _named(number: int, said: Mapping[str, Any], kept: Sequence[Stretch]) -> Stretch:
    try:
        return _stretch(said, kept)
    except UsageError as error:
        raise UsageError(f"stretch {letter_of(number)}: {error}") from None


def _stretch(said: Mapping[str, Any], kept: Sequence[Stretch]) -> Stretch:
    number, cover, height, width = (said.get(key) for key in ("keep", "cover", "height", "width"))
    fields: dict[str, Any] = {
        "from_m": values.length_m(f"{said.get('from')}km", "from", "12km"),
        "to_m": values.length_m(f"{said.get('to')}km", "to", "12km"),
        "canopy_cover_frac": values.percent_frac(str(cover), "canopy-cover") if cover else None,
        "canopy_height_m": wording.tree_height_m(f"{height}m") if height else None,
        "road_width_m": wording.road_width_m(f"{width}m") if width else None,
        "roofed": True if said.get("roofed") is True else None,
    }
    if height and fields["canopy_height_m"] is None:
        raise UsageError("the height of its trees is no number; give metres, such as 18")
    if number is None:
        return Stretch(**fields)
    if not isinstance(number, int) or not 0 <= number < len(kept):
        raise UsageError("the page named a stretch that is not there")
    one = kept[number]
    if one.roofed is False and fields["roofed"] is None:
        fields["roofed"] = False
    # A page shows rounded distances: where they were not touched, the trip's own stay.
    shown = stretch_shown(one)
    untouched = {f"{end}_m": getattr(one, f"{end}_m") for end in ("from", "to") if said.get(end) == shown[end]}
    return replace(one, **(fields | untouched))


def stretch_shown(stretch: Stretch) -> dict[str, Any]:
    """Return a stretch as the page shows it: text, empty where it says nothing."""
    cover, height, width = stretch.canopy_cover_frac, stretch.canopy_height_m, stretch.road_width_m
    return {
        "from": f"{stretch.from_m / 1000:.8g}",
        "to": f"{stretch.to_m / 1000:.8g}",
        "cover": "" if cover is None else f"{100 * cover:.8g}",
        "height": "" if height is None else f"{height:.8g}",
        "width": "" if width is None else f"{width:.8g}",
        "roofed": stretch.roofed is True,
    }
