"""A pace card on paper: one page to pin up."""

from __future__ import annotations

from typing import cast

from django.http import Http404, HttpResponse
from django.template.loader import render_to_string

from athletes.models import Practice
from coaching.fitness import Fitness
from plans import paper
from plans.handout_page import CAUTION
from plans.paper import PaperSize


def card_pdf(fitness: Fitness) -> bytes | None:
    """The card in force as a PDF of one page; None without a card."""
    if fitness.card is None:
        return None
    practice, athlete = Practice.get(), fitness.evidence.athlete
    context = {"fitness": fitness, "athlete": athlete, "practice": practice, "caution": CAUTION}
    sizes = (
        render_to_string("print/pace_card.html", {**context, "size": size}) for size in ("normal", "compact")
    )
    title = f"{athlete.name}, paces"
    return paper.fit(sizes, title=title, tagged=True, paper=cast(PaperSize, practice.paper))


def as_pdf(fitness: Fitness) -> HttpResponse:
    """For the browser to show and print; 404 while there is no card."""
    pdf = card_pdf(fitness)
    if pdf is None:
        raise Http404("There is no pace card yet.")
    headers = {"Content-Disposition": 'inline; filename="paces.pdf"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)
