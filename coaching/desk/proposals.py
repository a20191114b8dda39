"""Proposals: what re-balancing suggests, most urgent first; read in a line, decided in a tap."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_POST

from athletes.models import Athlete, Practice
from athletes.running.units import Units
from coaching.access import CoachRequest, coach_only, proposal_for
from coaching.desk import card_proposals
from coaching.desk.by_hand import HandRow, fresh_rows, hand_of, read_rows
from coaching.strips import week_strip
from plans import accepting, deciding
from plans.comparing import WeekPair, pairs
from plans.deciding import ByHand
from plans.issuing import Content, Stale
from plans.models import Change, Proposal
from plans.reading import Week, title_of, weeks_of_many
from plans.rebalancing import judge_small
from plans.silence import silent_among
from plans.telling import Difference

STRIPS_IN_LIST = 3
AT_ONCE = 5  # so many are accepted while the coach waits; more go on in the background


@dataclass(frozen=True)
class PairView:
    """A week before and after as two pictures of one scale."""

    first_day: date
    number: int
    purpose: str
    before: SafeString
    after: SafeString
    before_mm: int
    after_mm: int
    rows: list[HandRow]


@dataclass(frozen=True)
class Line:
    """One change as a person reads it."""

    day: date
    to_day: date | None
    was: str
    now: str
    sentence: str


@dataclass(frozen=True)
class Card:
    """One proposal in the list."""

    proposal: Proposal
    athlete: Athlete
    race: str
    days_to_race: int | None
    pairs: list[PairView]
    more_weeks: int
    lines: list[Line]


def units_of(athlete: Athlete) -> Units:
    return "mi" if athlete.units == "mi" else "km"


def line_of(change: Change, units: Units) -> Line:
    before, after = Content.from_json(change.before), Content.from_json(change.after)
    was = "no run" if before.removed else title_of(before.steps, units)
    now = "no run" if after.removed else title_of(after.steps, units)
    return Line(before.day, after.day if after.day != before.day else None, was, now, change.sentence)


def in_order(changes: Iterable[Change]) -> list[Change]:
    return sorted(changes, key=lambda c: (c.before["day"], c.before["slot"], c.pk))


def _mine(request: CoachRequest) -> QuerySet[Proposal]:
    return (
        Proposal.objects.filter(schedule__athlete__in=Athlete.objects.for_user(request.user))
        .select_related("schedule__athlete", "schedule__race_entry__race", "decided_by")
        .prefetch_related("changes")
    )


def cards_of(proposals: Sequence[Proposal]) -> list[Card]:
    """For the list, in a constant number of queries: the weeks of all of them are read at once."""
    days = [c.before["day"] for p in proposals for c in p.changes.all()]
    if days:
        first, last = date.fromisoformat(min(days)), date.fromisoformat(max(days)) + timedelta(7)
        weeks = weeks_of_many([p.schedule for p in proposals], first - timedelta(7), last)
    else:
        weeks = {p.schedule_id: [] for p in proposals}
    return [_card(p, weeks[p.schedule_id]) for p in proposals]


def _card(proposal: Proposal, weeks: list[Week]) -> Card:
    athlete = proposal.schedule.athlete
    units, today = units_of(athlete), athlete.today()
    race = proposal.schedule.race_entry.race if proposal.schedule.race_entry else None
    changes = in_order(proposal.changes.all())
    shown = pair_views(proposal, weeks, changes, [])
    return Card(
        proposal,
        athlete,
        race.name if race else "",
        (race.day - today).days if race else None,
        shown[:STRIPS_IN_LIST],
        max(0, len(shown) - STRIPS_IN_LIST),
        [line_of(change, units) for change in changes],
    )


def pair_views(
    proposal: Proposal, weeks: list[Week], changes: Sequence[Change], rows: Sequence[HandRow]
) -> list[PairView]:
    athlete = proposal.schedule.athlete
    units, today = units_of(athlete), athlete.today()
    apart = {
        c.session_id: Difference(Content.from_json(c.before), Content.from_json(c.after), c.sentence)
        for c in changes
    }
    made = pairs(weeks, apart, units, proposal.schedule.week_starts)
    return [pair_view(pair, units, today, rows) for pair in made]


def pair_view(pair: WeekPair, units: Units, today: date, rows: Sequence[HandRow]) -> PairView:
    full = max((i.planned_mm for w in (pair.before, pair.after) for i in w.items if i.is_run), default=0)
    end = pair.before.first_day + timedelta(7)
    mine = [row for row in rows if pair.before.first_day <= row.before.day < end]
    return PairView(
        pair.before.first_day,
        pair.before.number,
        pair.before.purpose,
        week_strip(pair.before, today, units, full or None),
        week_strip(pair.after, today, units, full or None),
        pair.before.planned_mm,
        pair.after.planned_mm,
        mine,
    )


class SmallForm(forms.Form):
    """What this practice calls small."""

    percent = forms.IntegerField(
        label="No week loses more than, in per cent",
        min_value=0,
        max_value=50,
        error_messages={"max_value": "Half a week is not small: at most 50."},
    )
    spares_key = forms.BooleanField(label="No key session is touched", required=False)

    @classmethod
    def of(cls, practice: Practice) -> SmallForm:
        return cls(initial={"percent": practice.small_cut_percent, "spares_key": practice.small_spares_key})


@coach_only
def proposals(request: CoachRequest) -> HttpResponse:
    return show_list(request)


def show_list(request: CoachRequest, form: SmallForm | None = None, status: int = 200) -> HttpResponse:
    rows = list(_mine(request).filter(state="open"))
    far = date.max
    rows.sort(
        key=lambda p: (
            p.urgency,
            p.schedule.race_entry.race.day if p.schedule.race_entry else far,
            p.schedule.athlete.name,
        )
    )
    cards = cards_of(rows)
    first = [c for c in cards if c.proposal.urgency < 5]
    small = [c for c in cards if c.proposal.small]
    rest = [c for c in cards if c.proposal.urgency >= 5 and not c.proposal.small]
    athletes = list(
        Athlete.objects.for_user(request.user).filter(left_on__isnull=True, schedules__state="running")
    )
    decided = _mine(request).filter(state__in=["accepted", "refused", "undone"]).order_by("-decided_at")[:12]
    context = {
        "parts": [
            ("Read these first", "first", first),
            ("To decide", "rest", rest),
            ("Small", "small", small),
        ],
        "count": len(cards),
        "first": len(first),
        "small": len(small),
        "accepting": accepting.accepting(request.user),
        "silent": silent_among(athletes),
        "decided": decided,
        "small_form": form or SmallForm.of(Practice.get()),
        "may_set": request.coach.is_head,
    }
    context |= card_proposals.context_of(request)
    return render(request, "desk/proposals.html", context, status=status)


@coach_only
def proposal(request: CoachRequest, pk: int) -> HttpResponse:
    return show(request, proposal_for(request.user, pk))


def show(
    request: CoachRequest, one: Proposal, rows: list[HandRow] | None = None, status: int = 200
) -> HttpResponse:
    changes = in_order(one.changes.all())
    rows = fresh_rows(changes) if rows is None else rows
    days = [c.before["day"] for c in changes] + [c.after["day"] for c in changes]
    weeks: list[Week] = []
    if days:
        first, last = date.fromisoformat(min(days)), date.fromisoformat(max(days))
        weeks = weeks_of_many([one.schedule], first - timedelta(7), last + timedelta(7))[one.schedule_id]
    athlete = one.schedule.athlete
    race = one.schedule.race_entry.race if one.schedule.race_entry else None
    newer = None
    if one.state in ("superseded",):
        newer = Proposal.objects.filter(schedule=one.schedule, state="open").first()
    context = {
        "proposal": one,
        "athlete": athlete,
        "race": race,
        "days_to_race": (race.day - athlete.today()).days if race else None,
        "weeks": pair_views(one, weeks, changes, rows),
        "lines": {row.change.pk: line_of(row.change, units_of(athlete)) for row in rows},
        "wrong": sum(row.wrong for row in rows),
        "newer": newer,
    }
    return render(request, "desk/proposal.html", context, status=status)


@require_POST
@coach_only
def accept(request: CoachRequest, pk: int) -> HttpResponse:
    """As it is, or as the coach changed it by hand."""
    one = proposal_for(request.user, pk)
    hand = ByHand()
    if "by_hand" in request.POST and one.state == "open":
        rows = read_rows(one, in_order(one.changes.all()), request.POST)
        if any(row.wrong for row in rows):
            return show(request, one, rows, status=422)
        hand = hand_of(one, rows)
    words = request.POST.get("words", "").strip()
    try:
        number = deciding.accept(one, by=request.user, coach=request.coach, hand=hand, words=words)
    except Stale as error:
        return stale(request, one, error)
    name = one.schedule.athlete.name
    if request.htmx:
        return render(request, "desk/proposals.html#decided", {"one": proposal_for(request.user, pk)})
    messages.success(request, f"Issued as version {number}. {name} sees it on the phone now.")
    return redirect("proposals")


def stale(request: CoachRequest, one: Proposal, error: Stale) -> HttpResponse:
    """Nothing was overwritten; the fresh proposal, if there is one, is shown as computed again."""
    newest = _mine(request).filter(schedule=one.schedule_id, state="open").first()
    if request.htmx:
        context = {"card": cards_of([newest])[0] if newest else None, "error": str(error), "one": one}
        return render(request, "desk/proposals.html#again", context)
    messages.error(request, f"{error} Nothing was overwritten; what stands now was computed again.")
    return redirect("proposal", pk=newest.pk) if newest else redirect("proposals")


@require_POST
@coach_only
def accept_small(request: CoachRequest) -> HttpResponse:
    """All that were small when the page was shown: those that are not the answer any more are computed again."""
    wanted = [int(pk) for pk in request.POST.getlist("pk") if pk.isdecimal() and len(pk) < 15]
    small = list(_mine(request).filter(state="open", small=True, pk__in=wanted))
    if len(small) > AT_ONCE:
        accepting.accept_all(small, request.user)
        return redirect("proposals")
    done, again = 0, []
    for one in small:
        try:
            deciding.accept(one, by=request.user, coach=request.coach)
            done += 1
        except Stale:
            again.append(one.schedule.athlete.name)
    if done:
        messages.success(request, f"{done} small proposal{'s' * (done != 1)} issued.")
    if again:
        messages.warning(request, f"Not issued, because something changed meanwhile: {', '.join(again)}.")
    if not done and not again:
        messages.info(request, "Nothing small waits any more.")
    return redirect("proposals")


@coach_only
def small_progress(request: CoachRequest) -> HttpResponse:
    """How far the acceptances are; htmx asks again until all are through. Without it the whole list."""
    if not request.htmx:
        return redirect("proposals")
    context = {"accepting": accepting.accepting(request.user)}
    return render(request, "desk/proposals.html#accepting", context)


@require_POST
@coach_only
def set_small(request: CoachRequest) -> HttpResponse:
    """What small means is the practice's: the head coach says it."""
    if not request.coach.is_head:
        raise Http404
    form = SmallForm(request.POST)
    if not form.is_valid():
        return show_list(request, form, status=422)
    practice = Practice.get()
    practice.small_cut_percent = form.cleaned_data["percent"]
    practice.small_spares_key = form.cleaned_data["spares_key"]
    practice.save()
    judge_small(practice)
    messages.success(request, "Kept. What waits was sorted anew.")
    return redirect("proposals")


@require_POST
@coach_only
def refuse(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    words = request.POST.get("words", "").strip()
    done = deciding.refuse(one, by=request.user, words=words)
    if request.htmx:
        return render(request, "desk/proposals.html#decided", {"one": proposal_for(request.user, pk)})
    if done:
        messages.success(request, "Refused. It is not raised again until something changes.")
    else:
        messages.info(request, "It was decided already.")
    return redirect("proposals")


@require_POST
@coach_only
def undo(request: CoachRequest, pk: int) -> HttpResponse:
    one = proposal_for(request.user, pk)
    try:
        number = deciding.undo(one, by=request.user)
    except Stale as error:
        messages.error(request, str(error))
    else:
        messages.success(request, f"Undone: the former sessions are issued again as version {number}.")
    return redirect("proposal", pk=pk)
