"""One session on the phone: its steps with own paces, and a small picture of effort over time."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from coaching import strips
from coaching.access import AthleteRequest, athlete_only, own_session
from plans.models import Log, SessionIssue
from plans.reading import cards_of, item_of, understood
from plans.training.describing import lines


@athlete_only
def session(request: AthleteRequest, pk: UUID) -> HttpResponse:
    one = own_session(request.athlete, pk)
    issue = get_object_or_404(SessionIssue, session=one, to_version=None)
    units = "mi" if request.athlete.units == "mi" else "km"
    standing = Log.objects.standing().filter(session=one).first()
    stored = cards_of(one.schedule).on(issue.day)
    steps = understood(issue.steps)
    card = stored.card if stored else None
    said = lines(steps, card, units) if steps and card else ()
    context = {
        "item": item_of(issue, standing, units),
        "removed": issue.removed,
        "units": units,
        "today": request.athlete.today(),
        "lines": said,
        "picture": strips.effort(said) if any(line.seconds[1] for line in said) else None,
        "change": one.changes.filter(proposal__state="accepted").order_by("-pk").first(),
        "card": stored,
    }
    return render(request, "phone/session.html", context)
