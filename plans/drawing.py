"""Drawing with a pen: small SVG pictures as text, for pages and for paper.

Law of this file: a picture is black on white by its own attributes, so that it prints without a style sheet;
on a page base.css gives the same classes their colours, light and dark. Shape carries the meaning. No `style`
attribute and no `<style>`: the site's content policy forbids both. Text is escaped here and nowhere else.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

INK = {
    "c-plan": 'fill="none" stroke="#000"',
    "c-run": 'fill="#000"',
    "c-key": 'fill="none" stroke="#000" stroke-width="1.8"',
    "c-miss": 'fill="none" stroke="#000" stroke-width="1.8"',
    "c-rest": 'fill="#000"',
    "c-now": 'fill="#000"',
    "c-mark": 'fill="#000" stroke="#fff"',
    "c-axis": 'fill="none" stroke="#999" stroke-width=".6"',
    "c-area": 'fill="#fff" stroke="#000" stroke-width="1.2"',
    "c-line": 'fill="none" stroke="#000"',
    "c-goal": 'fill="none" stroke="#000" stroke-width="2"',
}


@dataclass(frozen=True)
class Chart:
    """A picture with its words: `{{ chart }}` is the figure, `{{ chart.svg }}` the picture alone."""

    title: str
    svg: SafeString
    table: SafeString

    def __str__(self) -> str:
        """The figure: the picture, and its figures in a table that anyone can open."""
        return SafeString(
            f'<figure class="chart">{self.svg}'
            f'<details class="figures"><summary>The figures</summary><div class="scroll">{self.table}</div></details></figure>'
        )

    def __html__(self) -> str:
        """For `conditional_escape`."""
        return str(self)


def number(value: float) -> str:
    """A coordinate with at most two decimals and no trailing noise."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def rect(x: float, y: float, width: float, height: float) -> str:
    """One rectangle as path data; many of them make one element."""
    return f"M{number(x)} {number(y)}h{number(width)}v{number(height)}h{number(-width)}z"


def line(x1: float, y1: float, x2: float, y2: float) -> str:
    """One straight line as path data."""
    return f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"


def dot(x: float, y: float, radius: float) -> str:
    """One disc as path data."""
    r, d = number(radius), number(2 * radius)
    return f"M{number(x - radius)} {number(y)}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0 -{d} 0z"


def cross(x: float, y: float, half: float) -> str:
    """A cross of two strokes around (x, y) as path data."""
    d = number(2 * half)
    return f"M{number(x - half)} {number(y - half)}l{d} {d}m0-{d}l-{d} {d}"


def path(kind: str, pieces: Iterable[str]) -> str:
    """One path of one kind (a key of INK) from pieces of path data; nothing for no pieces."""
    data = "".join(pieces)
    return f'<path class="{kind}" {INK[kind]} d="{data}"/>' if data else ""


def label(x: float, y: float, words: str, anchor: str = "start") -> str:
    """Small text on the picture; anchor is start, middle or end."""
    return (
        f'<text class="c-text" font-size="11" fill="#000" text-anchor="{anchor}" '
        f'x="{number(x)}" y="{number(y)}">{escape(words)}</text>'
    )


def legend(words: str) -> str:
    """What the marks mean, over the picture on the left; gives way to what a finger asks for."""
    return label(0, 10, words).replace('class="c-text"', 'class="c-text c-legend"', 1)


def told(x: float, y: float, width: float, height: float, words: str, at: float) -> str:
    """Words that show at (`at`, 10), ending there, while a finger or pointer is on the box. Paper shows none."""
    box = f'x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}"'
    return (
        f'<g class="c-hit"><rect {box} fill="none" pointer-events="all"/>'
        f'<text class="c-text c-tip" opacity="0" font-size="11" fill="#000" text-anchor="end" '
        f'x="{number(at)}" y="10">{escape(words)}</text></g>'
    )


def picture(title: str, width: float, height: float, parts: Iterable[str], css: str = "") -> SafeString:
    """The whole SVG; `title` is what a screen reader says instead."""
    size = f'width="{number(width)}" height="{number(height)}"'
    named = f' class="{css}"' if css else ""
    return mark_safe(
        f'<svg{named} xmlns="http://www.w3.org/2000/svg" role="img" {size} '
        f'viewBox="0 0 {number(width)} {number(height)}"><title>{escape(title)}</title>{"".join(parts)}</svg>'
    )


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> SafeString:
    """The figures of a picture: first column names the row, the others are figures."""
    top = "".join(f'<th scope="col"{_num(i)}>{escape(head)}</th>' for i, head in enumerate(heads))
    body = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>'
        + "".join(f'<td class="num">{escape(cell)}</td>' for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return mark_safe(
        f'<table class="data"><caption class="visually-hidden">{escape(caption)}</caption>'
        f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
    )


def _num(column: int) -> str:
    return ' class="num"' if column else ""


def way_to_race(
    weeks: Sequence[int], now: int | None, *, width: float = 300, here: str = "you are here"
) -> SafeString:
    """The weeks to the race as bars: what lies behind and ahead is outlined, the week `now` is filled.

    weeks: volume of each week in any one unit (mm). now: index into weeks, None before and after the plan.
    A flag stands on the last bar.
    """
    top, floor = 12.0, 50.0
    most = max(weeks, default=0) or 1
    slot = width / max(len(weeks), 1)
    bar = min(slot - min(4.0, slot * 0.25), 24.0)
    tall = [max((floor - top) * week / most, 1.5) for week in weeks]
    boxes = [rect(i * slot + 0.5, floor - t, bar - 1, t) for i, t in enumerate(tall)]
    at_now = [box for i, box in enumerate(boxes) if i == now]
    parts = [
        path("c-plan", (box for i, box in enumerate(boxes) if i != now)),
        path("c-now", at_now),
        path("c-axis", [line(0, floor + 0.5, width, floor + 0.5)]),
    ]
    if tall:
        mast = (len(weeks) - 1) * slot + bar / 2
        foot = floor - tall[-1]
        parts.append(path("c-line", [line(mast, foot, mast, foot - 11)]))
        parts.append(path("c-run", [f"M{number(mast)} {number(foot - 11)}l-8 2.5l8 2.5z"]))
    if at_now and now is not None:
        middle = now * slot + bar / 2
        side = "start" if middle < 34 else "end" if middle > width - 34 else "middle"
        x = {"start": now * slot, "middle": middle, "end": now * slot + bar}[side]
        parts.append(label(x, floor + 12, here, side))
    weeks_left = "" if now is None else f", you are in week {now + 1}"
    return picture(f"{len(weeks)} weeks to the race{weeks_left}", width, floor + 16, parts)
