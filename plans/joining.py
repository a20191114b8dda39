"""Many PDFs put together as one, part by part, in memory that does not grow with their number.

pypdf's own writer keeps every object of every part until the end: 0.75 MB a handout, 400 MB for five hundred. Here a
part's pages, and whatever they point at, are written out and forgotten before the next part is read (ISO 32000-1, 7.5:
objects in any order, then the table of where each begins). The trees of tags are left behind: they would no longer be
true of the whole.
"""

from __future__ import annotations

import io
from collections.abc import Iterator

from pypdf import PdfReader
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    IndirectObject,
    NameObject,
    NumberObject,
    PdfObject,
    TextStringObject,
)

PAGES, ROOT = 1, 2  # the numbers of the two objects that are written last
OF_TAGS = ("/StructParents", "/StructParent")


class Joined:
    """A PDF while it is written."""

    def __init__(self) -> None:
        self.out = io.BytesIO(b"")
        self.out.write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        self.begins: dict[int, int] = {}  # where each object stands in the file
        self.next = ROOT + 1
        self.kids: list[int] = []
        self.marks: list[tuple[str, int]] = []

    def number(self) -> int:
        self.next += 1
        return self.next - 1

    def put(self, number: int, one: PdfObject) -> None:
        self.begins[number] = self.out.tell()
        self.out.write(f"{number} 0 obj\n".encode())
        one.write_to_stream(self.out)
        self.out.write(b"\nendobj\n")

    def add(self, part: bytes, name: str | None) -> None:
        """All pages of one PDF, with a bookmark of that name to the first of them."""
        reader = PdfReader(io.BytesIO(part))
        first = len(self.kids)
        copied = _Part(self, reader)
        for page in reader.pages:
            self.kids.append(copied.page(page))
        copied.rest()
        if name is not None and len(self.kids) > first:
            self.marks.append((name, self.kids[first]))

    def finish(self, title: str) -> bytes:
        """The page tree, the bookmarks, the title and the table; then all of it."""
        kids = ArrayObject(_to(one) for one in self.kids)
        self.put(PAGES, _dict(Type="/Pages", Count=NumberObject(len(self.kids)), Kids=kids))
        root = _dict(Type="/Catalog", Pages=_to(PAGES))
        if self.marks:
            root[NameObject("/Outlines")] = _to(self.bookmarks())
        self.put(ROOT, root)
        info = self.number()
        self.put(info, _dict(Title=TextStringObject(title)) if title else DictionaryObject())
        table = self.out.tell()
        rows = "".join(f"{self.begins[n]:010} 00000 n \n" for n in range(1, self.next))
        self.out.write(f"xref\n0 {self.next}\n0000000000 65535 f \n{rows}trailer\n".encode())
        _dict(Size=NumberObject(self.next), Root=_to(ROOT), Info=_to(info)).write_to_stream(self.out)
        self.out.write(f"\nstartxref\n{table}\n%%EOF\n".encode())
        return self.out.getvalue()

    def bookmarks(self) -> int:
        """One a part, side by side; the number of their head."""
        head = self.number()
        items = [self.number() for _ in self.marks]
        for at, (name, page) in enumerate(self.marks):
            there = ArrayObject([_to(page), NameObject("/Fit")])
            item = _dict(Title=TextStringObject(name), Parent=_to(head), Dest=there)
            if at:
                item[NameObject("/Prev")] = _to(items[at - 1])
            if at + 1 < len(items):
                item[NameObject("/Next")] = _to(items[at + 1])
            self.put(items[at], item)
        count = NumberObject(len(items))
        self.put(head, _dict(Type="/Outlines", Count=count, First=_to(items[0]), Last=_to(items[-1])))
        return head


class _Part:
    """One PDF on its way into the whole: its objects get new numbers as they are met."""

    def __init__(self, whole: Joined, reader: PdfReader) -> None:
        self.whole, self.reader = whole, reader
        self.numbers: dict[int, int] = {}
        self.waiting: list[tuple[int, IndirectObject]] = []

    def page(self, page: DictionaryObject) -> int:
        number = self.known(page.indirect_reference)
        made = DictionaryObject(page)
        made[NameObject("/Parent")] = _to(PAGES)
        self.whole.put(number, self.renumbered(made))
        return number

    def known(self, reference: IndirectObject | None) -> int:
        assert reference is not None
        if reference.idnum not in self.numbers:
            self.numbers[reference.idnum] = self.whole.number()
        return self.numbers[reference.idnum]

    def rest(self) -> None:
        """What the pages point at, and what that points at."""
        while self.waiting:
            number, reference = self.waiting.pop()
            if number in self.whole.begins:
                continue
            found = reference.get_object()
            if found is not None:
                self.whole.put(number, self.renumbered(found))

    def renumbered(self, one: PdfObject) -> PdfObject:
        """The same with new numbers in it; what it points at waits for its turn. A stream is changed where it is."""
        if isinstance(one, IndirectObject):
            if one.pdf is None:
                return one
            seen = one.idnum in self.numbers
            number = self.known(one)
            if not seen:
                self.waiting.append((number, one))
            return _to(number)
        if isinstance(one, ArrayObject):
            return ArrayObject(self.renumbered(each) for each in one)
        if isinstance(one, DictionaryObject):
            for key, value in list(self._kept(one)):
                one[NameObject(key)] = self.renumbered(value)
        return one

    def _kept(self, one: DictionaryObject) -> Iterator[tuple[str, PdfObject]]:
        for key in OF_TAGS:
            one.pop(key, None)
        for key in list(one):
            yield key, one.raw_get(key)


def _to(number: int) -> IndirectObject:
    return IndirectObject(number, 0, None)


def _dict(**values: PdfObject | str) -> DictionaryObject:
    return DictionaryObject(
        {
            NameObject(f"/{key}"): NameObject(value)
            if isinstance(value, str) and not isinstance(value, PdfObject)
            else value
            for key, value in values.items()
        }
    )
