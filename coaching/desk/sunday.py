"""Sunday's round: holds, proposals, those who need a word, next week's handouts, messages, done. It remembers where it was left."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from athletes.models import Athlete, Coach, HealthNote, Practice
from athletes.models.people import AthleteQuerySet
from coaching import privacy, roster_lines
from coaching.access import CoachRequest, athlete_for, coach_only, groups_for
from coaching.models import Phrase, SundayRound
from plans import saying, unread
from plans.attention_rules import URGENCY
from plans.handouts import start_batch, with_week
from plans.models import CardProposal, HandoutBatch, Message, Proposal, Sending
from plans.reading import week_of

STEPS = {
    "holds": "Holds",
    "proposals": "Proposals",
    "words": "Those who need a word",
    "handouts": "Next week’s handouts",
    "messages": "Messages",
    "done": "Done",
}
ORDER = list(STEPS)


class SayForm(forms.Form):
    words = forms.CharField(label="A word on their phone", max_length=400)


def mine(request: CoachRequest) -> AthleteQuerySet:
    return Athlete.objects.for_user(request.user).filter(left_on__isnull=True)


def week_ahead(today: date) -> date:
    return week_of(today, Practice.get().week_starts) + timedelta(7)


def round_of(coach: Coach) -> SundayRound:
    """The round that is under way, also a day or two into the week it prepares; else a new one, not stored yet."""
    ahead = week_ahead(timezone.localdate())
    going = SundayRound.objects.filter(
        coach=coach, finished_at__isnull=True, first_day__gte=ahead - timedelta(7)
    )
    found = going.first() or SundayRound.objects.filter(coach=coach, first_day=ahead).first()
    return found or SundayRound(coach=coach, first_day=ahead, began_at=timezone.now())


@coach_only
def sunday(request: CoachRequest) -> HttpResponse:
    """GET the step where it was left, or the one asked for; POST goes on, makes the handouts or says a word."""
    one = round_of(request.coach)
    if request.method == "POST":
        if one._state.adding:
            one, _ = SundayRound.objects.get_or_create(
                coach=one.coach, first_day=one.first_day, defaults={"began_at": one.began_at}
            )
        act = request.POST.get("act", "")
        if act == "say":
            return say(request, one)
        if act == "handouts":
            return handouts(request, one)
        return go_on(request, one)
    step = request.GET.get("step", "")
    return show(request, one, step if step in STEPS else one.step)


def go_on(request: CoachRequest, one: SundayRound) -> HttpResponse:
    here = request.POST.get("step", "")
    if here in ORDER[:-1]:
        one.step = ORDER[ORDER.index(here) + 1]
        one.finished_at = timezone.now() if one.step == "done" else None
        one.save(update_fields=["step", "finished_at"])
    return redirect("round")


def handouts(request: CoachRequest, one: SundayRound) -> HttpResponse:
    athletes = with_week(mine(request), one.first_day)
    if not athletes:
        messages.error(request, "Nobody has a schedule for that week.")
    else:
        start_batch(request.coach, athletes, one.first_day, None)
        messages.success(
            request, f"{len(athletes)} handout{' is' if len(athletes) == 1 else 's are'} being made."
        )
    return redirect("round")


def say(request: CoachRequest, one: SundayRound) -> HttpResponse:
    key = request.POST.get("athlete", "")
    athlete = athlete_for(
        request.user, int(key) if key.isascii() and key.isdecimal() and len(key) < 10 else 0
    )
    form = SayForm(request.POST)
    if not form.is_valid():
        return show(request, one, "words", (athlete.pk, form), 422)
    saying.say(athlete, form.cleaned_data["words"], by=request.user, by_coach=True, on_paper=True)
    messages.success(request, f"{athlete.name} reads it on the phone and on the next handout.")
    return redirect("round")


def show(
    request: CoachRequest,
    one: SundayRound,
    step: str,
    said: tuple[int, SayForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    context: dict[str, Any] = {
        "round": one,
        "step": step,
        "title": STEPS[step],
        "steps": [(key, words, key == step) for key, words in STEPS.items()],
        "next": STEPS[ORDER[ORDER.index(step) + 1]] if step != "done" else "",
        **CONTENTS[step](request, one),
    }
    if said:
        context["said_to"], context["say"] = said
    return render(request, "desk/round.html", context, status=status)


def holds(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    notes = HealthNote.objects.filter(athlete__in=mine(request), closed__isnull=True)
    privacy.note_read(notes, request.user)
    return {"holds": notes.select_related("athlete").order_by("opened", "athlete__name")}


def said_since(request: CoachRequest, one: SundayRound) -> QuerySet[Message]:
    return Message.objects.filter(author=request.user, by_coach=True, at__gte=one.began_at)


def proposals(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    waiting = Proposal.objects.filter(state="open", schedule__athlete__in=mine(request))
    cards = CardProposal.objects.filter(state="open", athlete__in=mine(request))
    found = waiting.select_related("schedule__athlete").order_by("urgency", "schedule__athlete__name")
    return {"proposals": found, "small": waiting.filter(small=True).count(), "cards": cards.count()}


def words(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    """Everybody with a reason but the holds, which were seen to before, and who was told what since the round began."""
    roster_lines.bring_up_to_date(mine(request))
    found = mine(request).filter(roster_line__urgency__lt=roster_lines.NONE).select_related("roster_line")
    told = set(said_since(request, one).values_list("athlete", flat=True))
    rows = []
    for athlete in found.order_by("roster_line__urgency", "name"):
        reasons = [w for w in athlete.roster_line.values["words"] if w["urgency"] > URGENCY["hold"]]
        if reasons:
            rows.append((athlete, reasons, athlete.pk in told))
    phrases = Phrase.objects.filter(coach=request.coach)
    return {"rows": rows, "say": SayForm(), "phrases": phrases}


def letters(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    """Who wrote and was not read yet, whom the coach may write to at once, and what went out since the round began."""
    return {
        "wrote": unread.by_coach(request.coach).select_related("athlete").order_by("athlete__name", "pk"),
        "groups": groups_for(request.user),
        "sent": Sending.objects.filter(coach=request.coach, at__gte=one.began_at),
    }


def paper(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    batches = HandoutBatch.objects.filter(coach=request.coach, first_day=one.first_day)
    return {"many": len(with_week(mine(request), one.first_day)), "batches": batches}


def done(request: CoachRequest, one: SundayRound) -> dict[str, Any]:
    """What went out since the round began, in one line."""
    since = one.began_at
    decided = Proposal.objects.filter(decided_by=request.user, decided_at__gte=since)
    batch = HandoutBatch.objects.filter(
        coach=request.coach, first_day=one.first_day, made_at__gte=since
    ).first()
    told = said_since(request, one).count()
    cleared = HealthNote.objects.filter(closed_by=request.user, closed__gte=since.date()).count()
    handouts_made = (batch.pages or batch.athletes.count()) if batch else 0
    counted = [
        (cleared, "hold cleared", "holds cleared"),
        (decided.filter(state="accepted").count(), "proposal accepted", "proposals accepted"),
        (decided.filter(state="refused").count(), "refused", "refused"),
        (told, "word sent", "words sent"),
        (handouts_made, "handout", "handouts"),
    ]
    said = [f"{number} {single if number == 1 else many}" for number, single, many in counted if number]
    left = Proposal.objects.filter(state="open", schedule__athlete__in=mine(request)).count()
    return {"line": ", ".join(said) or "nothing went out", "left": left}


CONTENTS = {
    "holds": holds,
    "proposals": proposals,
    "words": words,
    "handouts": paper,
    "messages": letters,
    "done": done,
}
