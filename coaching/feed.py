"""An athlete's sessions as a calendar by RFC 5545, at a secret address.

UID is the session's UUID (RFC 7986, 5.3) and SEQUENCE counts its issues, so a session that moves moves in the
calendar too; `coaching.feed_counts` sees that it never falls. A session that was taken out stays for a while as
CANCELLED. No alarms: a phone has its own.
"""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from itertools import groupby
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_safe
from icalendar import Calendar, Event

from athletes.models import Athlete, Practice
from athletes.running.units import Units
from coaching.addresses import absolute, hash_of
from coaching.feed_counts import count_up
from coaching.models import Feed
from plans.gathering import Meeting, meetings_of
from plans.models import Schedule, ScheduleVersion, SessionIssue
from plans.reading import Cards, cards_of, item_of, title_of, understood
from plans.training.describing import lines

LOOKS_BACK = timedelta(days=366)
PRODUCT = "-//Running practice//Sessions//EN"


@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponseBase:
    found = Feed.objects.select_related("athlete").filter(token_hash=hash_of(token)).first()
    if found is None or found.athlete.left_on is not None:
        raise Http404
    body = calendar_of(found.athlete, found).to_ical()
    etag = quote_etag(hashlib.sha256(body).hexdigest()[:32])
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["ETag"] = etag
    response["Cache-Control"] = "private, max-age=900"
    response["Content-Disposition"] = 'inline; filename="running.ics"'
    return get_conditional_response(request, etag=etag, response=response) or response


def calendar_of(athlete: Athlete, feed: Feed) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    name = f"Running, {Practice.get().name}"
    calendar.add("name", name)  # RFC 7986
    calendar.add("x-wr-calname", name)  # what older calendars read
    calendar.add("x-wr-timezone", athlete.time_zone)
    calendar.add("refresh-interval", timedelta(hours=4), parameters={"value": "DURATION"})
    today = athlete.today()
    schedules = Schedule.objects.filter(athlete=athlete).select_related("athlete").order_by("pk")
    with transaction.atomic():
        Feed.objects.select_for_update().get(pk=feed.pk)  # two calendars at once count one after the other
        events = [event for schedule in schedules for event in events_of(schedule, feed, today)]
        count_up(feed, events, timezone.now())
    for event in events:
        calendar.add_component(event)
    calendar.add_missing_timezones()
    return calendar


def events_of(schedule: Schedule, feed: Feed, today: date) -> list[Event]:
    """The sessions of a schedule; of one that is paused or has ended only what lies behind."""
    issues = SessionIssue.objects.filter(schedule=schedule, to_version=None, day__gte=today - LOOKS_BACK)
    if schedule.state != "running":
        issues = issues.filter(day__lt=min(today, schedule.paused_on or today))
    issues = issues.exclude(Q(role="rest") & Q(removed=False)).order_by("day", "slot", "session_id")
    versions = ScheduleVersion.objects.filter(schedule=schedule)
    issued = dict(versions.values_list("number", "issued_at"))
    found = list(issues)
    writer = _Writer(schedule, feed, today, cards_of(schedule), issued, _groups(schedule.athlete, found))
    return [writer.event(issue) for issue in found]


def _groups(athlete: Athlete, issues: list[SessionIssue]) -> dict[UUID, list[Meeting]]:
    """The group sessions that sessions are run in, also those the athlete is not expected at."""
    live = [issue for issue in issues if not issue.removed]
    if not live:
        return {}
    meetings = meetings_of([athlete], live[0].day, live[-1].day)
    found: dict[UUID, list[Meeting]] = {}
    for day, same_day in groupby(live, key=lambda issue: issue.day):
        items = [item_of(issue, None, athlete.units) for issue in same_day] if meetings.by_group else []
        for one in meetings.on(athlete.pk, day, items):
            if one.item:
                found.setdefault(one.item.session_id, []).append(one)
    return found


class _Writer:
    def __init__(
        self,
        schedule: Schedule,
        feed: Feed,
        today: date,
        cards: Cards,
        issued: dict[int, datetime],
        groups: dict[UUID, list[Meeting]],
    ) -> None:
        self.feed, self.today, self.cards, self.issued, self.groups = feed, today, cards, issued, groups
        self.club = ZoneInfo(Practice.get().time_zone)
        self.units: Units = "mi" if schedule.athlete.units == "mi" else "km"
        self.zone = ZoneInfo(schedule.athlete.time_zone)
        self.until: dict[date, datetime] = {}  # when the session before on the same day ends

    def event(self, issue: SessionIssue) -> Event:
        event = Event()
        all_of_it = self.groups.get(issue.session_id, [])
        expected = [one for one in all_of_it if one.expected]
        event.add("uid", str(issue.session_id))
        # A group session that moves moves the event too, so its changes count with the session's own.
        event.add("sequence", issue.sequence + sum(one.session.changes for one in all_of_it))
        moved = [one.session.changed_at for one in all_of_it]
        written = max([self.issued[issue.from_version], *moved]).astimezone(UTC).replace(microsecond=0)
        event.add("dtstamp", written)
        event.add("last-modified", written)
        event.add("summary", title_of(issue.steps, self.units))
        if text := self.describe(issue, expected):
            event.add("description", text)
        event.add("url", absolute("my-session", pk=issue.session_id))
        event.add("status", "CANCELLED" if issue.removed else "CONFIRMED")
        event.add("transp", "TRANSPARENT")
        event.add("class", "PRIVATE")
        held = [one.session for one in expected if not one.session.called_off]
        if held:
            event.add("location", held[0].place)
        self.place(event, issue, next((one.at for one in held if one.at), None))
        return event

    def place(self, event: Event, issue: SessionIssue, at: time | None) -> None:
        """All day, or from the athlete's hour on; a second session of the day follows the first.

        With a group `at` its hour, by the practice's clock.
        """
        if self.feed.begins is None and at is None:
            event.add("dtstart", issue.day)
            event.add("dtend", issue.day + timedelta(1))
            return
        if at is not None:
            begins = datetime.combine(issue.day, at, self.club)
        else:
            begins = datetime.combine(issue.day, self.feed.begins or time(0), self.zone)
            begins = max(begins, self.until.get(issue.day, begins))
        ends = begins + timedelta(minutes=max(round(issue.planned_s / 60), 15))
        if not issue.removed:
            self.until[issue.day] = ends
        event.add("dtstart", begins)
        event.add("dtend", ends)

    def describe(self, issue: SessionIssue, expected: list[Meeting]) -> str:
        """With whom, why, and the steps with the paces that stand on the day."""
        card = self.cards.on(issue.day)
        steps = understood(issue.steps)
        told = lines(steps, card.card, self.units) if steps and card else ()
        rows = [" ".join(part for part in (line.amount, line.words, line.pace) if part) for line in told]
        with_whom = [one.words(self.units) for one in expected]
        return "\n".join([*with_whom, *([issue.purpose] if issue.purpose else []), *rows])
