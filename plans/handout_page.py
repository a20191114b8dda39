"""The weekly handout: what stands on the page, and the page itself.

Everything arrives in the athlete's words and units; nothing is computed here but the layout. The rule for long
content: normal letters on one page; else one step smaller on one page; else normal letters, one column, on as
many pages as it takes. Nothing is cut.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import segno
import weasyprint
from django.template.loader import get_template, render_to_string
from django.utils.safestring import SafeString, mark_safe

from plans.drawing import way_to_race
from plans.paper import PaperSize, fit, style_text

Size = Literal["normal", "compact", "flowing"]
SIZES: tuple[Size, ...] = ("normal", "compact", "flowing")
TEMPLATE = "print/handout.html"
LETTERS_A_LINE = 55  # of the words under the week, about
CAUTION = (
    "Pain that changes how you run, a fever, or dizziness: stop, tell your coach, see a clinician. "
    "Chest pain, fainting or collapse: stop and call the emergency number at once. "
    "This is a training plan, not medical advice."
)


@dataclass(frozen=True)
class DayRow:
    """One session, or a day of rest. `again`: one more session of the day above it."""

    date: str
    title: str
    details: tuple[str, ...] = ()
    pace: str = ""
    where: str = ""
    rest: bool = False
    again: bool = False


@dataclass(frozen=True)
class PaceRow:
    """One line of the pace card: `10K`, `4:38 to 4:46`."""

    name: str
    pace: str


@dataclass(frozen=True)
class HandoutPage:
    """All that one handout says. week counts from 1; now is an index into volumes (mm a week)."""

    name: str
    practice: str
    dates: str
    days: tuple[DayRow, ...]
    mark: str = ""
    address: tuple[str, ...] = ()
    week: int = 0
    weeks: int = 0
    purpose: str = ""
    held: str = ""
    race: str = ""
    days_to_go: int | None = None
    total: str = ""
    changes: tuple[str, ...] = ()
    coach: str = ""
    note: str = ""
    next_week: str = ""
    paces: tuple[PaceRow, ...] = ()
    pace_unit: str = ""
    volumes: tuple[int, ...] = ()
    now: int | None = None
    link: str = ""
    caution: str = CAUTION
    lang: str = "en"
    paper: PaperSize = "A4"

    @property
    def title(self) -> str:
        """The title of the document."""
        return f"{self.name}, {self.dates}"

    @property
    def note_parts(self) -> list[str]:
        """The coach's note line by line: each may be written from its own side."""
        return [line for line in self.note.splitlines() if line.strip()]

    @property
    def wordy(self) -> bool:
        """Whether the words under the week stand as high as the paces beside them: then the way goes below those."""
        lines = [-(-len(words) // LETTERS_A_LINE) + 1 for words in (*self.changes, self.note, self.next_week)]
        return sum(lines) > len(self.paces) + 3

    @property
    def countdown(self) -> str:
        """What follows the race's name: ` in 62 days`."""
        if self.days_to_go is None or self.days_to_go < 0:
            return ""
        return {0: " today", 1: " tomorrow"}.get(self.days_to_go, f" in {self.days_to_go} days")


def html_of(page: HandoutPage, size: Size = "normal") -> str:
    """The page as HTML for `plans.paper`."""
    way = way_to_race(page.volumes, page.now, width=220) if page.volumes else ""
    code = code_of(page.link) if page.link else ""
    return render_to_string(TEMPLATE, {"page": page, "size": size, "way": way, "code": code})


def code_of(address: str) -> SafeString:
    """An address as a QR code (ISO/IEC 18004) in SVG, level M, with its quiet zone of four modules."""
    code = segno.make(address, error="m", micro=False, boost_error=False)
    return mark_safe(code.svg_inline(border=4, omitsize=True, title=f"Code that opens {address}"))


def variants(page: HandoutPage) -> Iterator[str]:
    """The page in each size, roomiest first."""
    return (html_of(page, size) for size in SIZES)


def pdf_of(page: HandoutPage, *, tagged: bool = False) -> bytes:
    """The handout as a PDF: `tagged` for the athlete's own, plain for a batch to be merged."""
    return fit(variants(page), title=page.title, lang=page.lang, tagged=tagged, paper=page.paper)


def content_hash(page: HandoutPage) -> str:
    """64 hex digits: the same as long as the printed page would be the same."""
    said = json.dumps(asdict(page), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(f"{_layout()}\n{said}".encode()).hexdigest()


@cache
def _layout() -> str:
    """All that a page depends on besides its content."""
    template = get_template(TEMPLATE).template.source  # type: ignore[attr-defined]
    ours = (
        Path(__file__).with_name(name).read_text() for name in ("paper.py", "drawing.py", "handout_page.py")
    )
    return "\n".join((template, style_text(), weasyprint.__version__, segno.__version__, *ours))
