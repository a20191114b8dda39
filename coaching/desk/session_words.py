"""One session of an athlete on the desk: what was planned, what was logged, what was said about it."""

from __future__ import annotations

from uuid import UUID, uuid4

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from coaching import strips
from coaching.access import CoachRequest, coach_only, session_for
from coaching.desk.phrases import put_in
from coaching.models import Phrase
from coaching.phone.logging import history
from coaching.phone.reading import units_of
from coaching.phone.words import WordForm
from plans import saying, unread
from plans.models import Log, SessionIssue
from plans.reading import cards_of, item_of, understood
from plans.training.describing import lines


@coach_only
def session_words(request: CoachRequest, pk: UUID) -> HttpResponse:
    """GET shows it; POST answers the athlete."""
    one = session_for(request.user, pk)
    text = put_in(request) if request.method == "POST" else None
    sent = request.method == "POST" and text is None
    form = WordForm(request.POST if sent else None, initial={"entry_id": uuid4(), "words": text})
    if sent and form.is_valid():
        data = form.cleaned_data
        saying.say(
            one.schedule.athlete,
            data["words"],
            by=request.user,
            by_coach=True,
            key=data["entry_id"],
            session=one,
        )
        return redirect("session-words", pk=pk)
    athlete = one.schedule.athlete
    issue = get_object_or_404(SessionIssue, session=one, to_version=None)
    standing = Log.objects.standing().filter(session=one).first()
    stored, steps = cards_of(one.schedule).on(issue.day), understood(issue.steps)
    units = units_of(athlete)
    context = {
        "athlete": athlete,
        "item": item_of(issue, standing, units),
        "removed": issue.removed,
        "units": units,
        "lines": lines(steps, stored.card, units) if steps and stored else (),
        "picture": strips.effort(steps, stored.card) if steps and stored else None,
        "file": standing.files.first() if standing else None,
        "history": history(one),
        "words": unread.with_reading(one.words.all()),
        "phrases": Phrase.objects.filter(coach=request.coach),
        "form": form,
    }
    return render(request, "desk/session_words.html", context, status=422 if form.errors else 200)
