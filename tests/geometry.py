"""What may be asked of any page's layout, measured in the browser: nothing cut, broken or too small."""

from pathlib import Path

FLAWS = Path(__file__).with_suffix(".js").read_text(encoding="utf-8")


def flaws(page, *, least_px=9.5, longest_word=15):
    """What is wrong with the layout: empty if nothing is."""
    return page.evaluate(FLAWS, [least_px, longest_word])
