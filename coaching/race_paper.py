"""Race day on paper: the plan, race week, and the strip for the wrist."""

from __future__ import annotations

from typing import cast

from django.http import Http404, HttpResponse
from django.template.loader import render_to_string

from athletes.models import Practice
from coaching.race_rows import race_context
from plans import paper
from plans.handout_page import CAUTION
from plans.paper import PaperSize
from plans.racing import RaceDay


def race_pdf(day: RaceDay) -> bytes:
    """Tagged; the plan with race week, then the strip on a page of its own."""
    practice = Practice.get()
    title = f"{day.athlete.name}, {day.race.name}"
    context = {**race_context(day), "practice": practice, "caution": CAUTION, "title": title}
    sizes = (
        render_to_string("print/race_day.html", {**context, "size": size})
        for size in ("normal", "compact", "flowing")
    )
    return paper.fit(sizes, title=title, tagged=True, paper=cast(PaperSize, practice.paper), pages=2)


def as_pdf(day: RaceDay) -> HttpResponse:
    """For the browser to show and print; 404 while there is no plan."""
    if day.plan is None:
        raise Http404("There is no plan for this race yet.")
    headers = {"Content-Disposition": 'inline; filename="race-day.pdf"'}
    return HttpResponse(race_pdf(day), content_type="application/pdf", headers=headers)
