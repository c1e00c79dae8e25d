"""A decision with the words, rows and picture that present it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionReport:
    """What a decision command hands over; `command` names it and its files.

    `answer` is one sentence and `remarks` what belongs to it. `header` and `cells` are the table people see,
    `rows` the same as values, keyed as the command's CSV has them; `content` is result.json. `chart_words`
    says in words what the chart shows. `rests_on` says in one line what the answer rests on, `assumptions` in
    pairs of a subject and a sentence.
    """

    command: str
    title: str
    answer: str
    remarks: tuple[str, ...]
    header: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    rows: Sequence[Mapping[str, Any]]
    content: Mapping[str, Any]
    chart_png: bytes
    chart_words: str
    warnings: tuple[str, ...]
    software: str
    rests_on: str = ""
    assumptions: tuple[tuple[str, str], ...] = ()
