"""The handout on paper: made for real, read back, and looked at as a picture."""

import http.server
import io
import os
import re
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
import segno
from pypdf import PdfReader

from plans import handout_page, paper
from plans.handout_page import CAUTION, DayRow, HandoutPage, PaceRow, code_of, content_hash, html_of, pdf_of

DAYS = (
    DayRow("Mon 30", "8 km easy", ("You can talk in whole sentences.",), "5:50–6:30"),
    DayRow("Tue 1", "Strength, 30 min", ("The sheet from October.",)),
    DayRow("Wed 2", "Rest", rest=True),
    DayRow(
        "Thu 3",
        "6 × 3 min at 10K pace, 2 min jog",
        ("15 min easy before, 10 min easy after.",),
        "4:38–4:46",
        "Pier car park, 18:30",
    ),
    DayRow("Fri 4", "Rest", rest=True),
    DayRow("Sat 5", "6 km easy + 6 strides", ("Strides: 20 s quick and relaxed, walk back.",), "5:50–6:30"),
    DayRow("Sun 6", "Long run 24 km", ("Last 5 km steady if the first 19 felt easy.",), "5:45–6:20"),
)
PAGE = HandoutPage(
    name="Bea Lindqvist",
    practice="Harbour Lane Runners",
    mark="HLR",
    address=("Old Boathouse, Quay Street 4",),
    dates="30 November to 6 December",
    week=10,
    weeks=18,
    purpose="The last full week before an easier one.",
    race="Saltmarsh Marathon",
    days_to_go=62,
    total="58 km",
    days=DAYS,
    changes=("Sunday is 24 km, not 26: your longest run in the past 30 days was 22 km.",),
    coach="Mara",
    note="New shoes before week 13, please.",
    next_week="Easier: 48 km, long run 18 km.",
    paces=(PaceRow("10K", "4:38 to 4:46"), PaceRow("Easy", "5:50 to 6:30")),
    pace_unit="per km",
    volumes=tuple(
        km * 1_000_000 for km in (38, 42, 46, 36, 44, 50, 54, 42, 52, 58, 62, 48, 60, 66, 70, 54, 40, 24)
    ),
    now=9,
    link="http://localhost:8000/me/?week=2026-11-30",
)
LONG_NOTE = " ".join(f"Sentence {n} of the coach's note is here to be printed." for n in range(1, 131))
LONG = replace(PAGE, note=LONG_NOTE, days=tuple(replace(day, details=day.details * 12) for day in DAYS))
# Enough for more than a page of normal letters, and less than a page of small ones.
FULL = replace(PAGE, days=tuple(replace(day, details=day.details * (1 if day.rest else 5)) for day in DAYS))


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def words(pdf: bytes) -> str:
    """All the text, with every run of white space as one space."""
    return " ".join(" ".join(page.extract_text() for page in read(pdf).pages).split())


def grey(pdf: bytes, page: int = 1, dpi: int = 50) -> tuple[int, int, bytes]:
    """One page as a picture: width, height, a byte a point (0 is black)."""
    drawn = subprocess.run(
        ["pdftoppm", "-gray", "-r", str(dpi), "-f", str(page), "-l", str(page), "-"],
        input=pdf,
        capture_output=True,
        check=True,
    ).stdout
    _, size, _, points = drawn.split(b"\n", 3)
    width, height = map(int, size.split())
    return width, height, points


def fonts(pdf: bytes) -> dict[str, bool]:
    """Each font of a file, and whether its outlines are inside."""
    found = {}
    for page in read(pdf).pages:
        for font in page["/Resources"]["/Font"].values():
            base = font.get_object()["/DescendantFonts"][0].get_object()
            found[str(base["/BaseFont"])] = any(
                key.startswith("/FontFile") for key in base["/FontDescriptor"]
            )
    return found


def test_all_that_stands_on_the_page_can_be_read_back():
    pdf = pdf_of(PAGE)
    text = words(pdf)
    assert len(read(pdf).pages) == 1
    for said in (
        "Bea Lindqvist", "HLR", "Harbour Lane Runners", "Old Boathouse, Quay Street 4", "Week 10 of 18",
        "30 November to 6 December", "Saltmarsh Marathon in 62 days", "this week 58 km",
        "The last full week before an easier one.", "Mon 30 8 km easy", "You can talk in whole sentences.",
        "6 × 3 min at 10K pace, 2 min jog", "Pier car park, 18:30", "4:38–4:46", "Long run 24 km",
        "Sunday is 24 km, not 26", "From Mara", "New shoes before week 13", "Easier: 48 km, long run 18 km.",
        "Your paces, per km", "10K 4:38 to 4:46", "you are here", CAUTION,
    ):  # fmt: skip
        assert said in text


@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_paper_is_the_practices(size, points):
    box = read(pdf_of(replace(PAGE, paper=size))).pages[0].mediabox
    assert (round(box.width), round(box.height)) == points


def test_fonts_travel_with_the_file_and_only_their_used_letters():
    pdf = pdf_of(PAGE)
    found = fonts(pdf)
    assert found
    assert all(found.values())
    assert len(pdf) < 60_000


@pytest.mark.parametrize(
    "name", ["Þóra Ångström-Nguyễn", "Zoë Żółkiewska", "Şükrü Ñandú", "Ольга Ёлкина", "Ελένη Ρώ"]
)
def test_names_keep_their_accents(name):
    assert name in words(pdf_of(replace(PAGE, name=name)))


@pytest.mark.parametrize("name", ["ليلى حداد", "נועה לוי"])
def test_names_written_from_right_to_left_keep_their_order(name):
    pdf = pdf_of(replace(PAGE, name=name))
    assert name in words(pdf)
    assert all(fonts(pdf).values())


def test_each_line_of_a_note_runs_from_its_own_side():
    """Unicode's bidirectional rules: a full stop stands at the left end of a Hebrew line, at the right of an English one."""
    pdf = pdf_of(
        replace(PAGE, note="\u05e9\u05d1\u05d5\u05e2 \u05d8\u05d5\u05d1 \u05dc\u05db\u05dd.\n\nDo smile.")
    )
    boxes = subprocess.run(
        ["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()
    ends = {
        word: (float(left), float(right))
        for left, right, word in re.findall(
            r'xMin="(\S+)" yMin="\S+" xMax="(\S+)" yMax="\S+">([^<]+)<', boxes
        )
    }
    # This tool tells letters as they stand, from the left: the full stop before the word that it ends.
    assert ends[".\u05dd\u05db\u05dc"][1] < ends["\u05e2\u05d5\u05d1\u05e9"][0]
    assert ends["\u05e2\u05d5\u05d1\u05e9"][1] > 300  # points: the line begins at the right end of its column
    assert ends["Do"][0] < 60
    assert [
        paper.direction(words) for words in ("1. \u05dc\u05db\u05dd", "5 km \u05dc", "12", "\u0623\u062d")
    ] == ["rtl", "ltr", "ltr", "rtl"]


def test_a_second_session_says_its_day_and_stays_with_the_first():
    twice = tuple(
        one
        for n in range(23, 30)
        for one in (
            DayRow(f"Day {n}", "8 km easy", ("A quiet hour.",)),
            DayRow(f"Day {n}", "Strength", ("A line of it.",) * 9, again=True),
        )
    )
    pdf = pdf_of(replace(PAGE, days=twice))
    pages = [page.extract_text() for page in read(pdf).pages]
    assert len(pages) == 2
    for page in pages:
        for n in range(23, 30):
            assert page.count(f"Day {n}") in (0, 2)


def test_the_way_stands_under_the_shorter_column():
    """So that an ordinary week keeps its letters; `words` stand to the left of the paces."""

    def left_of_the_way(page):
        pdf = pdf_of(page)
        boxes = subprocess.run(
            ["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True
        ).stdout.decode()
        return float(re.search(r'xMin="(\S+)"[^>]*>way<', boxes)[1])

    assert left_of_the_way(replace(PAGE, changes=(), note="")) < 100
    assert left_of_the_way(replace(PAGE, note="Keep the easy days easy and the shoes dry. " * 12)) > 300


def test_long_content_shrinks_by_one_step_before_it_takes_a_second_page():
    assert len(paper.lay_out(html_of(FULL, "normal")).pages) == 2
    pdf = pdf_of(FULL)
    assert len(read(pdf).pages) == 1
    assert words(pdf).count("You can talk in whole sentences.") == 5


def test_very_long_content_flows_on_and_loses_nothing():
    pdf = pdf_of(LONG)
    pages = read(pdf).pages
    text = words(pdf)
    assert len(pages) > 1
    for number in range(1, 131):
        assert f"Sentence {number} of the coach's note" in text
    assert text.count("You can talk in whole sentences.") == 12
    assert text.count(CAUTION) == 1
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page.extract_text()
    assert "Bea Lindqvist · Week 10 of 18 · 30 November to 6 December" in pages[1].extract_text()


@pytest.mark.parametrize(
    "page", [PAGE, FULL, LONG, replace(PAGE, paper="Letter")], ids=["usual", "full", "long", "Letter"]
)
def test_no_ink_in_the_margins(page):
    pdf = pdf_of(page)
    for number in range(1, len(read(pdf).pages) + 1):
        width, height, points = grey(pdf, number)
        edge = 16  # 8 mm at 50 dpi
        rows = [points[y * width : (y + 1) * width] for y in range(height)]
        assert min(min(row[:edge] + row[-edge:]) for row in rows) == 255
        assert min(min(row) for row in rows[: edge // 2] + rows[-edge // 2 :]) == 255


def test_a_word_without_end_stays_on_the_paper():
    test_no_ink_in_the_margins(
        replace(PAGE, name="X" * 120, purpose="m" * 400, note="W" * 700, days=(DayRow("Mon 30", "k" * 300),))
    )


def test_kind_to_ink():
    _, _, points = grey(pdf_of(PAGE))
    ink = sum(255 - point for point in points) / (255 * len(points))
    assert 0.01 < ink < 0.05


def test_what_people_type_is_text_not_markup():
    pdf = pdf_of(replace(PAGE, name="<b>Bea</b>", note="<img src=x> & <script>alert(1)</script>"))
    assert "<b>Bea</b>" in words(pdf)
    assert "<img src=x> & <script>alert(1)</script>" in words(pdf)


def test_the_page_reads_no_address_and_no_file(tmp_path):
    asked = []

    class Listener(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            asked.append(self.path)
            self.send_response(200)
            self.end_headers()

        def log_message(self, *args):
            pass

    secret = tmp_path / "secret.css"
    secret.write_text("body::before { content: 'the secret of this server' }")
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Listener) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        out = f"http://127.0.0.1:{server.server_port}"
        pdf = paper.render(
            f'<link rel="stylesheet" href="{secret.as_uri()}"><link rel="stylesheet" href="{out}/a.css">'
            f'<link rel="attachment" href="{secret.as_uri()}"><style>@import "{out}/b.css";</style>'
            f'<base href="{out}"><img src="c.png"><img src="data:text/plain,hello"><object data="{out}/d.svg"></object>'
            f'<svg><image href="{out}/e.png"/></svg><p style="background: url({out}/f.png)">still printed</p>',
            title="x",
        )
        server.shutdown()
    assert asked == []
    assert "still printed" in words(pdf)
    assert "secret" not in words(pdf)
    assert not read(pdf).attachments


def test_same_page_same_bytes_in_any_thread():
    first = pdf_of(PAGE)
    with ThreadPoolExecutor(2) as pool:
        assert all(pdf == first for pdf in pool.map(pdf_of, [PAGE] * 4))


def test_the_athletes_own_is_tagged_for_a_screen_reader():
    pdf = read(pdf_of(PAGE, tagged=True))
    root = pdf.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata.title == "Bea Lindqvist, 30 November to 6 December"
    assert b'pdfuaid:part="1"' in root["/Metadata"].get_data()
    tags, pictures = [], []

    def walk(node):
        node = node.get_object()
        if not isinstance(node, dict) or "/S" not in node:
            return
        tags.append(node["/S"])
        if node["/S"] == "/Figure":
            pictures.append(node.get("/Alt"))
        kids = node.get("/K", [])
        for kid in kids if isinstance(kids, list) else [kids]:
            walk(kid)

    walk(root["/StructTreeRoot"]["/K"][0])
    assert tags.count("/H1") == 1
    assert tags.count("/H2") == 5
    assert tags.count("/Table") == 2
    assert tags.count("/TR") == 7 + 2
    assert pictures == [
        "18 weeks to the race, you are in week 10",
        "Code that opens http://localhost:8000/me/?week=2026-11-30",
    ]


def test_a_batch_is_one_file_in_order_with_a_bookmark_each():
    parts = [pdf_of(PAGE), pdf_of(LONG), pdf_of(replace(PAGE, name="Ilse Varga"), tagged=True)]
    names = ["Bea Lindqvist", "Bea again", "Ilse Varga"]
    merged = paper.merge(parts, title="Handouts", names=names)
    pdf = read(merged)
    assert len(pdf.pages) == 2 + len(read(parts[1]).pages)
    assert "Ilse Varga" in pdf.pages[-1].extract_text()
    assert [mark.title for mark in pdf.outline] == names
    assert [pdf.get_destination_page_number(mark) for mark in pdf.outline] == [0, 1, len(pdf.pages) - 1]
    assert pdf.metadata.title == "Handouts"
    assert "/StructTreeRoot" not in pdf.trailer["/Root"]
    assert not any("/StructParents" in page or "/Tabs" in page for page in pdf.pages)
    assert all(fonts(merged).values())
    assert merged == paper.merge(parts, title="Handouts", names=names)


# In a process of its own: what a C++ library holds is seen from outside only.
MERGING = """
import sys
from plans.paper import merge
part = open(sys.argv[1], "rb").read()
def most():
    return int(next(line for line in open("/proc/self/status") if line.startswith("VmHWM")).split()[1])
held = []
for count in (5, 125):
    merge(bytearray(part) for _ in range(count))
    held.append(most())
print(held[1] - held[0])
"""


def test_putting_many_together_takes_little_memory_for_each(tmp_path):
    """500 pages in a worker under 300 MB leaves each some 0.4 MB; a library that keeps all it read takes 0.8."""
    (tmp_path / "part.pdf").write_bytes(pdf_of(PAGE, tagged=True))
    grown = subprocess.run(
        [sys.executable, "-c", MERGING, tmp_path / "part.pdf"], capture_output=True, check=True
    ).stdout
    assert int(grown) / 120 < 300  # kB


SAID_ELSEWHERE = """
from datetime import date
from hashlib import sha256
from tests.plans.test_paper import PAGE, paper, pdf_of
own = pdf_of(PAGE, tagged=True)
print(date.today().year, sha256(own).hexdigest(), sha256(paper.merge([own, own], title="x", names=["A"])).hexdigest())
"""


def test_same_page_same_bytes_in_another_process_on_another_day():
    """Hashes of strings differ from process to process, and libfaketime moves the clock of the second."""
    preload = next(Path("/usr/lib").glob("*/faketime/libfaketime.so.1"), None)
    said = []
    for seed, day in (("1", None), ("2", "2031-05-04 03:02:01")):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        if preload and day:
            env |= {"LD_PRELOAD": str(preload), "FAKETIME": day}
        script = f"import django; django.setup(){SAID_ELSEWHERE}"
        out = subprocess.run([sys.executable, "-c", script], env=env, capture_output=True, check=True).stdout
        said.append(out.decode().split())
    assert said[0][1:] == said[1][1:]
    assert not preload or said[0][0] != said[1][0] == "2031"


def test_a_batch_is_a_sound_file_to_another_reader(tmp_path):
    """poppler's own tools, which complain of every mistake in a table or an object."""
    (tmp_path / "all.pdf").write_bytes(
        paper.merge([pdf_of(PAGE, tagged=True), pdf_of(LONG)], title="É", names=["נועה", "B"])
    )
    for tool in ("pdfinfo", "pdftotext"):
        told = subprocess.run(
            [tool, tmp_path / "all.pdf", *(["-"] * (tool == "pdftotext"))], capture_output=True, check=True
        )
        assert told.stderr == b""
    drawn = subprocess.run(
        ["pdftoppm", "-r", "20", "-png", tmp_path / "all.pdf", tmp_path / "page"],
        capture_output=True,
        check=True,
    )
    assert drawn.stderr == b""
    assert len(list(tmp_path.glob("page-*.png"))) == 1 + len(read(pdf_of(LONG)).pages)


def test_nothing_to_print_is_said():
    with pytest.raises(ValueError, match="no pages to put together"):
        paper.merge([])
    with pytest.raises(ValueError, match="no variant"):
        paper.fit([], title="x")


def test_the_hash_follows_the_content():
    assert content_hash(PAGE) == content_hash(replace(PAGE))
    assert content_hash(PAGE) != content_hash(replace(PAGE, note="New shoes before week 14, please."))
    assert content_hash(PAGE) != content_hash(replace(PAGE, days_to_go=61))
    # A later version that draws or tags otherwise makes its pages again.
    assert all(
        said in handout_page._layout() for said in ("def way_to_race", "def _name_scopes", ".days", "<table")
    )


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (0, "Saltmarsh Marathon today"),
        (1, "Saltmarsh Marathon tomorrow"),
        (2, "Saltmarsh Marathon in 2 days"),
    ],
)
def test_the_countdown_in_words(days, said):
    assert said in html_of(replace(PAGE, days_to_go=days))


def test_a_page_with_little_on_it_has_no_empty_headings():
    page = HandoutPage(
        name="Noor", practice="Harbour Lane", dates="1 to 7 June", days=(DayRow("Mon 1", "Rest", rest=True),)
    )
    text = words(pdf_of(page))
    assert "Mon 1 Rest" in text
    for absent in ("Changed", "From", "Next week", "Your paces", "The way there", "Week 0", "this week"):
        assert absent not in text


def test_the_printed_code_is_the_one_of_the_address():
    # Read by a phone's camera in life; here each module on paper is held against the library's own matrix.
    pdf = paper.render(f'<div style="width: 90mm">{code_of(PAGE.link)}</div>', title="x")
    width, _, points = grey(pdf, dpi=150)
    dark = [(at % width, at // width) for at, point in enumerate(points) if point < 128]
    left, right = min(x for x, _ in dark), max(x for x, _ in dark) + 1
    top, bottom = min(y for _, y in dark), max(y for _, y in dark) + 1
    expected = segno.make(PAGE.link, error="m", version=3).matrix
    across, down = (right - left) / 29, (bottom - top) / 29
    printed = tuple(
        bytearray(
            points[int(top + down * (row + 0.5)) * width + int(left + across * (column + 0.5))] < 128
            for column in range(29)
        )
        for row in range(29)
    )
    assert printed == expected


def test_the_code_has_its_quiet_zone():
    # ISO/IEC 18004: four modules of white on each side; version 3 has 29 modules.
    assert 'viewBox="0 0 37 37"' in code_of("http://localhost:8000/me/?week=2026-11-30")
