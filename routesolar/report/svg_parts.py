"""Small pieces of charts in SVG; colours other than those of values are left to CSS."""

from dataclasses import dataclass

from markupsafe import escape

from routesolar.report.colours import round_step


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A straight axis: values from `low` to `high` lie between two places of the picture."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return a value's place."""
        share = (value - self.low) / max(self.high - self.low, 1e-9)
        return self.start + share * (self.end - self.start)


def picture(kind: str, size: tuple[float, float], label: str, parts: list[str]) -> str:
    """Return an SVG element of that size with a description."""
    width, height = size
    return (
        f'<svg class="{kind}" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(label)}">'
        f"{''.join(parts)}</svg>"
    )


def words(x: float, y: float, label: str, kind: str = "") -> str:
    """Return a text whose baseline starts there; "middle" and "end" set it about or before the place."""
    named = f' class="{kind}"' if kind else ""
    return f'<text{named} x="{x:.1f}" y="{y:.1f}">{escape(label)}</text>'


def box(kind: str, corner: tuple[float, float], size: tuple[float, float], colour: str = "") -> str:
    """Return a rectangle by its upper left corner and its size; colours stand for values."""
    (x, y), (width, height) = corner, size
    fill = f' fill="{colour}"' if colour else ""
    return (
        f'<rect class="{kind}"{fill} x="{x:.1f}" y="{y:.1f}" '
        f'width="{max(width, 0):.1f}" height="{max(height, 0):.1f}"/>'
    )


def line(kind: str, *places: tuple[float, float]) -> str:
    """Return a line through places."""
    return f'<path class="{kind}" d="M{"L".join(f"{x:.1f} {y:.1f}" for x, y in places)}"/>'


def round_values(highest: float, most: int) -> list[float]:
    """Return round values from zero to at least `highest`, at most `most` above zero."""
    step = round_step(max(highest, 1e-9) / most)
    return [step * number for number in range(int(-(-highest // step)) + 1)]
