"""Plan templates: the list, and one read whole."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render

from athletes.models import Athlete
from coaching.access import CoachRequest, coach_only, template_for
from plans.models import Template, TemplateVersion
from plans.reading import title_of
from plans.training.template import DAY_NAMES, TemplateSession, TemplateWeek


@dataclass(frozen=True)
class Line:
    """One session of a template as the page shows it."""

    day: str
    title: str
    text: str
    purpose: str
    key: bool


@dataclass(frozen=True)
class WeekRow:
    number: int
    to_go: int
    week: TemplateWeek
    lines: list[Line]


@coach_only
def templates(request: CoachRequest) -> HttpResponse:
    newest = {}
    for version in TemplateVersion.objects.filter(template__archived=False).order_by("number"):
        newest[version.template_id] = version.plan
    rows = [(template, newest[template.pk]) for template in Template.objects.filter(archived=False)]
    return render(request, "desk/templates.html", {"rows": rows})


@coach_only
def template(request: CoachRequest, pk: int) -> HttpResponse:
    one = template_for(request.user, pk)
    plan = one.latest.plan
    weeks = [
        WeekRow(number, len(plan.weeks) - number, week, [_line(session) for session in week.sessions])
        for number, week in enumerate(plan.weeks, start=1)
    ]
    athletes = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    return render(
        request, "desk/template.html", {"template": one, "plan": plan, "weeks": weeks, "athletes": athletes}
    )


def _line(session: TemplateSession) -> Line:
    return Line(
        day=DAY_NAMES[session.day][:3] if session.day is not None else "any",
        title=session.text if session.free else title_of(session.text, "km"),
        text=session.text,
        purpose=session.purpose,
        key=session.priority == "key",
    )
