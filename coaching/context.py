"""What every page knows: the practice, and the way around."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from django.conf import settings
from django.db.models import Exists, OuterRef
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import cached_property

from athletes.models import Athlete, Coach, HealthNote, NoteReading, Practice, User
from plans import unread
from plans.models import CardProposal, Proposal

DESK = [
    ("Roster", "roster"),
    ("Messages", "messages"),
    ("Week", "week"),
    ("Proposals", "proposals"),
    ("Templates", "templates"),
    ("Handouts", "handouts"),
    ("Races", "races"),
    ("Practice", "practice"),
]
PHONE = [
    ("Today", "today"),
    ("Plan", "my-plan"),
    ("Paces", "my-paces"),
    ("Messages", "my-messages"),
    ("Profile", "profile"),
]


def house(request: HttpRequest) -> dict[str, Any]:
    return {
        "practice": Practice.get(),
        "demo": settings.DEMO,
        "desk_nav": _Lazy(lambda: desk_nav(request)),
        "phone_nav": _Lazy(lambda: phone_nav(request)),
        "is_coach": _Lazy(lambda: [1] * Coach.objects.filter(user_id=request.user.pk or 0).exists()),
        "is_athlete": _Lazy(lambda: [1] * Athlete.objects.filter(user_id=request.user.pk or 0).exists()),
    }


class _Lazy:
    """A list that is made only by the page that prints it."""

    def __init__(self, make: Callable[[], list[Any]]) -> None:
        self.make = make

    @cached_property
    def made(self) -> list[Any]:
        return self.make()

    def __iter__(self) -> Iterator[Any]:
        return iter(self.made)

    def __bool__(self) -> bool:
        return bool(self.made)


def desk_nav(request: HttpRequest) -> list[tuple[str, str, bool, int]]:
    if not request.user.is_authenticated:
        return []
    waiting = Proposal.objects.filter(
        state="open", schedule__athlete__in=Athlete.objects.for_user(request.user)
    ).count()
    waiting += CardProposal.objects.filter(
        state="open", athlete__in=Athlete.objects.for_user(request.user)
    ).count()
    coach = Coach.objects.filter(user=request.user).first()
    counts = {
        "proposals": waiting,
        "roster": unread_notes(request.user),
        "messages": unread.by_coach(coach).count() if coach else 0,
    }
    return [
        (
            label,
            reverse(name),
            here(request, name),
            counts.get(name, 0),
        )
        for label, name in DESK
    ]


def phone_nav(request: HttpRequest) -> list[tuple[str, str, bool, int]]:
    """A page that is fetched for the phone's store has no count: it would be old by the time it is shown."""
    athlete = None if request.headers.get("X-Keep") else getattr(request, "athlete", None)
    counts = {"my-messages": unread.by_athlete(athlete).count() if athlete else 0}
    return [
        (label, reverse(name), request.path == reverse(name), counts.get(name, 0)) for label, name in PHONE
    ]


def unread_notes(user: User) -> int:
    """Open health notes of this coach's athletes that they have not read yet: the mark stays until they do."""
    read = NoteReading.objects.filter(note=OuterRef("pk"), reader=user, at__gte=OuterRef("changed_at"))
    mine = Athlete.objects.for_user(user).filter(left_on__isnull=True)
    return HealthNote.objects.filter(~Exists(read), athlete__in=mine, closed__isnull=True).count()


def here(request: HttpRequest, name: str) -> bool:
    """An athlete's pages belong to the roster, their thread to the messages."""
    path, thread = request.path, "/messages/" in request.path
    if name == "roster":
        return path == reverse("roster") or ("/athletes/" in path and not thread)
    return path.startswith(reverse(name)) or (name == "messages" and thread)
