"""A decision's words: the answer, what belongs to it, and a table; on the terminal as plain text."""

import textwrap
from collections.abc import Sequence
from itertools import zip_longest
from typing import NamedTuple

from routesolar.report.clock_words import clock, day
from routesolar.report.text import warned
from routesolar.trip.names import printable

MOST_ROWS = 12  # on the terminal; files and page have all
_WRAPPED_HEAD = 12  # characters above which a heading of a table takes several lines


def at_least(case: str) -> tuple[str, str]:
    """Return the headings of the 10th and the 90th percentile, of days or trips."""
    return f"9 {case}s in 10 at least", f"1 {case} in 10 at least"


class Words(NamedTuple):
    """What a decision says: a sentence, further sentences, a table of cells, and the chart put into words."""

    answer: str
    remarks: tuple[str, ...]
    header: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    chart_words: str


def terminal_text(words: Words, warnings: tuple[str, ...], width: int) -> str:
    """Return the whole answer for a terminal `width` characters wide: plain text without escapes.

    Warnings are only counted; they are told beside it.
    """
    blocks = [_wrapped(printable(sentence), width) for sentence in (words.answer, *words.remarks)]
    shown = words.cells[:MOST_ROWS]
    blocks += ["", table_text(words.header, shown, width)]
    if len(shown) < len(words.cells):
        blocks.append(f"... and {len(words.cells) - len(shown)} more rows, in the files and on the page")
    blocks += [_wrapped(line, width) for line in [warned(len(warnings))] if line]
    return "\n".join(blocks) + "\n"


def table_text(header: tuple[str, ...], cells: tuple[tuple[str, ...], ...], width: int) -> str:
    """Return a table of plain text; its last columns give way when `width` is small."""
    heads = [textwrap.wrap(name, _WRAPPED_HEAD) for name in header]
    body = [[printable(cell) for cell in row] for row in cells]
    widths = [max(map(len, column)) for column in zip(map(_longest, heads), *body, strict=True)]
    while len(widths) > 2 and sum(widths) + 2 * (len(widths) - 1) > width:
        widths.pop()
    above = list(zip_longest(*(head[::-1] for head in heads[: len(widths)]), fillvalue=""))[::-1]
    rule = ["-" * size for size in widths]
    return "\n".join(_line(row, widths) for row in (*above, rule, *body))


def _longest(words: list[str]) -> str:
    return max(words, key=len, default="")


def _line(texts: Sequence[str], widths: list[int]) -> str:
    """Return texts set in columns, the first to the left and the others to the right; the rest is left out."""
    first, *others = zip(texts, widths, strict=False)
    set_right = (text.rjust(size) for text, size in others)
    return "  ".join([first[0].ljust(first[1]), *set_right]).rstrip()


def when(utc_s: float, time_zone: str) -> str:
    """Return "11:15 on 20 Nov 2026" in the zone."""
    return f"{clock(utc_s, time_zone)} on {day(utc_s, time_zone)}"


def chance(frac: float) -> str:
    """Return "92 %", without claiming certainty that a draw of days cannot give."""
    if frac > 0.995:
        return "over 99 %"
    return "under 1 %" if frac < 0.005 else f"{100 * frac:.0f} %"


def share(frac: float | None) -> str:
    """Return "18 %", or "-" where it is undefined."""
    return "-" if frac is None else f"{100 * frac:.0f} %"


def listed(names: list[str]) -> str:
    """Return "a", "a and b" or "a, b and c"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _wrapped(line: str, width: int) -> str:
    return textwrap.fill(line, width, subsequent_indent="  ")
