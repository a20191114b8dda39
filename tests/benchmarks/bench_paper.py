"""The handout beside bare WeasyPrint on the same HTML, turn and turn about in the same run; memory over many pages.

Aims (issue: on paper): a page within 1.15 times bare WeasyPrint; memory flat over 500 pages and under 300 MB.
Two processes against one is printed for information: it says as much about the machine as about the program.
Exits with 1 over an aim. `python -m tests.benchmarks.bench_paper 100` makes 100 pages instead of 500.
"""

import os
import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from statistics import median
from time import perf_counter

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coaching.settings")
django.setup()

from weasyprint import CSS, HTML  # noqa: E402

from plans.handout_page import html_of, pdf_of  # noqa: E402
from plans.paper import style_text  # noqa: E402
from tests.plans.test_paper import PAGE  # noqa: E402

AIM_RATIO, AIM_MB, AIM_GROWTH_MB = 1.15, 300, 30


def bare() -> bytes:
    pdf: bytes = HTML(string=html_of(PAGE)).write_pdf(stylesheets=[CSS(string=style_text())])
    return pdf


def taken(work) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def resident_mb() -> float:
    """Memory of this process now, from the kernel's own count."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def some(count: int) -> int:
    return sum(len(pdf_of(PAGE)) for _ in range(count))


def by_processes(workers: int, pages: int) -> float:
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(some, [1] * workers))  # starting up is not counted
        return taken(lambda: list(pool.map(some, [pages // 4] * 4)))


def main(pages: int) -> int:
    bare(), pdf_of(PAGE)
    rounds = [(taken(lambda: pdf_of(PAGE)), taken(bare)) for _ in range(15)]
    ours, theirs = (median(column) for column in zip(*rounds, strict=True))
    print(
        f"a handout {ours * 1000:.0f} ms, bare WeasyPrint {theirs * 1000:.0f} ms, ratio {ours / theirs:.2f}"
    )
    some(min(100, pages // 2))
    early = resident_mb()
    some(pages - min(100, pages // 2))
    late = resident_mb()
    print(f"memory {early:.0f} MB, {late:.0f} MB after {pages} pages")
    one, two = by_processes(1, 20), by_processes(2, 20)
    print(
        f"20 pages: one process {one:.1f} s, two {two:.1f} s, {one / two:.2f} times on {os.cpu_count()} cores"
    )
    return int(ours / theirs > AIM_RATIO or late > AIM_MB or late - early > AIM_GROWTH_MB)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 500))
