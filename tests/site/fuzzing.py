"""Forms as the pages show them, and values that people, programs and attackers put into them."""

from __future__ import annotations

import inspect
import re
import sys
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

from django.urls import Resolver404, resolve
from hypothesis import strategies as st

from tests.everybody import ATHLETE, HEAD, STRANGER, Everybody, Route, routes

Fields = dict[str, list[str]]  # a field's name, and the values it had or offers


class Forms(HTMLParser):
    """The forms of one page that send by POST: their address and their fields."""

    def __init__(self, page: str, address: str) -> None:
        super().__init__()
        self.found: list[tuple[str, Fields]] = []
        self._address, self._fields, self._select = address, None, ""  # type: ignore[var-annotated]
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        to = given.get("action", "") if tag == "form" else given.get("formaction", given.get("hx-post", ""))
        if tag == "form" or to:
            self._fields = {} if tag == "form" or self._fields is None else self._fields
            self.found.append((urljoin(self._address, to), self._fields))
        if self._fields is None:
            return
        if (name := given.get("name")) and tag in ("input", "select", "textarea", "button"):
            values = self._fields.setdefault(name, [])
            values += [given["value"]] if "value" in given else []
            self._select = name if tag == "select" else ""
        elif tag == "option" and self._select:
            self._fields[self._select].append(given.get("value", ""))


@dataclass
class Target:
    """An address, who may send to it, and what it is known to take."""

    route: Route
    who: int
    address: str
    fields: Fields = field(default_factory=dict)


def who_may(route: Route) -> int:
    if route.path.startswith("desk/"):
        return HEAD
    return ATHLETE if route.path.startswith(("me/", "account/", "passkeys/add")) else STRANGER


def names_in_source(view: Any, method: str) -> list[str]:
    """What the view's file reads by name, whether a page shows a field for it or not."""
    module = sys.modules.get(inspect.unwrap(view).__module__)
    source = inspect.getsource(module) if module else ""
    return re.findall(rf'{method}(?:\.get|\.getlist)?[(\[]\s*"([\w-]+)"', source)


def targets(everybody: Everybody) -> list[Target]:
    """Every address, with the fields that any page shows for it."""
    found = {r.name: Target(r, who_may(r), everybody.address(r)) for r in routes()}
    clients = {who: everybody.client(who) for who in (STRANGER, ATHLETE, HEAD)}
    for target in list(found.values()):
        page = clients[target.who].get(target.address)
        if page.status_code != 200 or "html" not in page.get("Content-Type", ""):
            continue
        for address, fields in Forms(page.content.decode(), target.address).found:
            try:
                name = resolve(urlsplit(address).path).view_name
            except Resolver404:
                continue
            if name in found:
                merge(found[name].fields, fields)
    for target in found.values():
        merge(target.fields, {name: [] for name in names_in_source(target.route.view, "POST")})
        target.fields.pop("csrfmiddlewaretoken", None)
    return list(found.values())


def merge(into: Fields, fields: Fields) -> None:
    for name, values in fields.items():
        known = into.setdefault(name, [])
        known += [value for value in values if value not in known][: 12 - len(known)]


EVIL = [
    *("", " ", "0", "-1", "1e9", "NaN", "inf", "-0", "99999999999999999999", "1" * 400, "٣", "½", "²"),
    *(
        "\x00",
        "a\x00b",
        "\ufeff",
        "\u202e",
        "𝕬" * 50,
        "e\u0301" * 30,
        "\ud7ff",
        "\r\n",
        "\t",
        "'",
        '"',
        "\\",
        "%s",
        "{}",
    ),
    *(
        "<script>alert(1)</script>",
        "<b>Bea</b>",
        "=1+1",
        "@SUM(A1)",
        "+1",
        "-1+1",
        "../../etc/passwd",
        "';--",
    ),
    *(
        "2026-02-30",
        "0001-01-01",
        "9999-12-31",
        "2026-W01",
        "1900-01-01",
        "2026-11-25",
        "24:00",
        "7:00",
        "23:59:60",
    ),
    *(
        "10 km",
        "10",
        "5 mi",
        "-5 km",
        "999999 km",
        "0,5 km",
        "42.195",
        "1:23:45",
        "99:99:99",
        "0:00",
        "4:30/km",
        "1e400",
    ),
    *(
        "2 km easy; 5 x 3 min @ 10K, 2 min jog; 2 km easy",
        "long run 30 km",
        "999 x 999 km @ MP",
        "(" * 60,
        "x" * 3000,
    ),
    *("done", "cut", "missed", "ill", "pain", "on", "true", "None", "null", "[]", "[1]", "1,2,3", "1;2"),
    *("bea@example.org", "@", "a@b", "x" * 300 + "@example.org", "Europe/Lisbon", "Mars/Olympus"),
]
VALUES = st.one_of(
    st.sampled_from(EVIL),
    st.text(max_size=40),
    st.integers(-(10**12), 10**12).map(str),
    st.floats().map(str),
    st.dates().map(str),
    st.uuids().map(str),
)


@st.composite
def entries(draw: st.DrawFn, fields: Fields) -> dict[str, list[str]]:
    """A form as it might come in: most fields as the page had them, some with anything at all, some left out."""
    sent: dict[str, list[str]] = {}
    for name, known in fields.items():
        how = draw(st.sampled_from(["known", "known", "anything", "several", "left out"]))
        if how == "known" and known:
            sent[name] = [draw(st.sampled_from(known))]
        elif how == "several":
            sent[name] = draw(st.lists(st.one_of(VALUES, st.sampled_from(known or [""])), max_size=4))
        elif how != "left out":
            sent[name] = [draw(VALUES)]
    if draw(st.integers(0, 9)) == 0:
        sent[draw(st.text("abcdefghij-_[]", min_size=1, max_size=12))] = [draw(VALUES)]
    return sent


JSON = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.sampled_from(EVIL)
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
NUMBERS = st.one_of(
    st.floats(-200, 200).map(lambda n: f"{n:.6f}"),
    st.sampled_from(["NaN", "inf", "-inf", "1e999", "", "x", "9" * 40]),
)
TIMES = st.one_of(
    st.datetimes().map(lambda t: t.isoformat() + "Z"),
    st.sampled_from(["", "yesterday", "2026-02-30T00:00:00Z", "2026-11-25T07:00:00", "0000-00-00T00:00:00Z"]),
)


@st.composite
def gpx(draw: st.DrawFn) -> bytes:
    """Something like GPX 1.1, with points that may be anywhere, at any time, in any order."""
    points = draw(st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS, TIMES), max_size=8))
    inside = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><ele>{ele}</ele><time>{when}</time>'
        f"<extensions><hr>{ele}</hr></extensions></trkpt>"
        for lat, lon, ele, when in points
    )
    text = draw(
        st.sampled_from(
            [
                '<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><name>{0}'
                "</name><trkseg>{1}</trkseg></trk></gpx>",
                '<gpx version="1.0"><trk><trkseg>{1}</trkseg><trkseg>{1}</trkseg></trk></gpx>',
                "<gpx><rte>{1}</rte></gpx>",
                '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx><trk><name>&b;</name><trkseg>{1}</trkseg></trk></gpx>',
                '<!DOCTYPE x SYSTEM "file:///etc/passwd"><gpx>{1}</gpx>',
                "<gpx><trk><trkseg>{1}",
            ]
        )
    )
    whole = (
        text.replace("{0}", draw(st.sampled_from(["run", "", "&lt;b&gt;"]))).replace("{1}", inside).encode()
    )
    return mutated(draw, whole)


def mutated(draw: st.DrawFn, whole: bytes) -> bytes:
    """Often as it is; else with a few bytes changed, cut off, or nothing but noise."""
    how = draw(st.sampled_from(["whole", "whole", "whole", "changed", "cut", "noise"]))
    if how == "noise":
        return draw(st.binary(max_size=200))
    if how == "cut":
        return whole[: draw(st.integers(0, len(whole)))]
    if how == "changed" and whole:
        at = draw(st.integers(0, len(whole) - 1))
        return whole[:at] + draw(st.binary(min_size=1, max_size=4)) + whole[at + 1 :]
    return whole


@st.composite
def sheet(draw: st.DrawFn, heads: list[str]) -> bytes:
    """A CSV file with some of these columns, in any order, and rows of anything."""
    columns = draw(st.lists(st.sampled_from([*heads, "Other", ""]), min_size=1, max_size=6))
    separator = draw(st.sampled_from([",", ";", "\t"]))
    rows = draw(st.lists(st.lists(VALUES, max_size=7), max_size=6))
    text = "\n".join(separator.join(cells) for cells in [columns, *rows])
    return mutated(draw, text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])), "replace"))
