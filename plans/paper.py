"""Paper: HTML in, PDF out, by WeasyPrint.

Law of this file: a page reads nothing but what it is handed. No address, no file, no data URL is ever fetched,
whatever an athlete or a coach typed. Same input, same bytes, on one machine with one set of fonts: no date and
no random number goes in.

Reading fonts and the style sheet costs more than a page, so each thread keeps its own: WeasyPrint does not say
that either may be shared between threads.
"""

import threading
from collections.abc import Iterable, Sequence
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any, Literal
from unicodedata import bidirectional

from pikepdf import Dictionary, ObjectStreamMode, OutlineItem, PageLocation, Pdf, Stream
from weasyprint import CSS, HTML
from weasyprint.document import Document
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

PaperSize = Literal["A4", "Letter"]
OF_TAGS = ("/StructParents", "/StructParent", "/Tabs")
STYLE = Path(__file__).resolve().parent.parent / "templates" / "print" / "print.css"


class NothingIsRead(URLFetcher):  # type: ignore[misc]  # weasyprint has no types
    """Refuses every address. WeasyPrint leaves out what it could not read and goes on with the page."""

    def fetch(self, url: str, headers: object = None) -> Any:
        """Never returns.

        Raises ValueError naming what was asked for.
        """
        raise ValueError(f"A printed page reads nothing from elsewhere; it asked for {url[:80]}")


class _Tools(threading.local):
    def __init__(self) -> None:
        self.fetcher = NothingIsRead()
        self.fonts = FontConfiguration()
        self.styles: dict[PaperSize, list[Any]] = {}

    def style(self, paper: PaperSize) -> list[Any]:
        if paper not in self.styles:
            self.styles[paper] = [
                CSS(string=text, font_config=self.fonts, url_fetcher=self.fetcher)
                for text in (style_text(), f"@page {{ size: {paper} }}")
            ]
        return self.styles[paper]


_tools = _Tools()


@cache
def style_text() -> str:
    """The style sheet of everything that is printed."""
    return STYLE.read_text(encoding="utf-8")


def _options(tagged: bool) -> dict[str, Any]:
    return {"pdf_variant": "pdf/ua-1"} if tagged else {}


def direction(words: str) -> Literal["ltr", "rtl"]:
    """`dir="auto"` of HTML, which WeasyPrint does not know: the first letter that has a direction decides."""
    strong = next((kind for kind in map(bidirectional, words) if kind in ("L", "R", "AL")), "L")
    return "ltr" if strong == "L" else "rtl"


def lay_out(html: str, *, paper: PaperSize = "A4", tagged: bool = False) -> Document:
    """The pages of one HTML text, not yet written: `len(document.pages)` tells how many."""
    source = HTML(string=html, url_fetcher=_tools.fetcher)
    for one in source.etree_element.iter():
        if one.get("dir") == "auto":
            one.set("dir", direction("".join(one.itertext())))
    return source.render(font_config=_tools.fonts, stylesheets=_tools.style(paper), **_options(tagged))


def render(
    html: str, *, title: str, lang: str = "en", tagged: bool = False, paper: PaperSize = "A4"
) -> bytes:
    """One HTML text as a PDF with embedded fonts.

    title and lang: the metadata a screen reader says first. tagged: with the structure of PDF/UA-1 (ISO 14289-1).
    """
    return fit([html], title=title, lang=lang, tagged=tagged, paper=paper)


def fit(
    variants: Iterable[str],
    *,
    title: str,
    lang: str = "en",
    tagged: bool = False,
    paper: PaperSize = "A4",
    pages: int = 1,
) -> bytes:
    """The first variant that needs no more than so many pages; when none does, the last one, on as many as it takes.

    variants: the same content, roomiest first; later ones are made only when needed.
    Raises ValueError when there is no variant at all.
    """
    document = None
    for html in variants:
        document = lay_out(html, paper=paper, tagged=tagged)
        if len(document.pages) <= pages:
            break
    if document is None:
        raise ValueError("Nothing to print: no variant of the page was given.")
    document.metadata.title = title
    document.metadata.lang = lang
    pdf: bytes = document.write_pdf(finisher=_name_scopes if tagged else None, **_options(tagged))
    return pdf


def _name_scopes(document: Document, pdf: Any) -> None:
    """WeasyPrint tags header cells, but not what they head: PDF/UA-1 (ISO 14289-1, 7.5) asks for a scope of each."""
    tags = {one.reference: one for one in pdf.objects if hasattr(one, "items") and "S" in one}
    for cell in tags.values():
        if cell["S"] == "/TH" and "A" in cell:
            part = tags.get(tags[cell["P"]]["P"], {})
            cell["A"]["Scope"] = "/Column" if part.get("S") == "/THead" else "/Row"


def merge(parts: Iterable[bytes], *, title: str = "", names: Sequence[str] = ()) -> bytes:
    """Many PDFs as one for the printer, in their order, a bookmark each where `names` are given.

    The tags of PDF/UA do not survive merging, so what points at them goes too: for a screen reader print one athlete's
    own page. Same parts, same bytes: the file's identity is made of its content, and no date goes in.
    Raises ValueError when there are no parts: a PDF has at least one page.
    """
    whole, out = Pdf.new(), BytesIO()
    with whole.open_outline() as outline:
        for number, part in enumerate(parts):
            first = len(whole.pages)
            whole.pages.extend(Pdf.open(BytesIO(part)).pages)
            if number < len(names):
                outline.root.append(OutlineItem(names[number], first, PageLocation.Fit))
    if not whole.pages:
        raise ValueError("Nothing to print: there are no pages to put together.")
    for one in whole.objects:
        for key in OF_TAGS:
            if isinstance(one, Dictionary | Stream) and key in one:
                del one[key]
    if title:
        whole.docinfo["/Title"] = title
    whole.save(
        out,
        min_version="1.7",
        deterministic_id=True,
        object_stream_mode=ObjectStreamMode.generate,
    )
    return out.getvalue()
