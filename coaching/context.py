"""What every page knows: the practice, and the way around."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db.models import Exists, OuterRef
from django.http import HttpRequest
from django.urls import reverse

from athletes.models import Athlete, Coach, HealthNote, NoteReading, Practice, User
from plans.models import CardProposal, Proposal

DESK = [
    ("Roster", "roster"),
    ("Proposals", "proposals"),
    ("Templates", "templates"),
    ("Handouts", "handouts"),
    ("Races", "races"),
    ("Practice", "practice"),
]
PHONE = [("Today", "today"), ("Plan", "my-plan"), ("Paces", "my-paces"), ("Profile", "profile")]


def house(request: HttpRequest) -> dict[str, Any]:
    return {
        "practice": Practice.get(),
        "demo": settings.DEMO,
        "desk_nav": _Lazy(lambda: desk_nav(request)),
        "phone_nav": [(label, reverse(name), request.path == reverse(name)) for label, name in PHONE],
        "is_coach": _Lazy(lambda: [1] * Coach.objects.filter(user_id=request.user.pk or 0).exists()),
        "is_athlete": _Lazy(lambda: [1] * Athlete.objects.filter(user_id=request.user.pk or 0).exists()),
    }


class _Lazy:
    """A list that is made only by the page that prints it."""

    def __init__(self, make: Any) -> None:
        self.make = make

    def __iter__(self) -> Any:
        return iter(self.make())

    def __bool__(self) -> bool:
        return bool(self.make())


def desk_nav(request: HttpRequest) -> list[tuple[str, str, bool, int]]:
    if not request.user.is_authenticated:
        return []
    waiting = Proposal.objects.filter(
        state="open", schedule__athlete__in=Athlete.objects.for_user(request.user)
    ).count()
    waiting += CardProposal.objects.filter(
        state="open", athlete__in=Athlete.objects.for_user(request.user)
    ).count()
    counts = {"proposals": waiting, "roster": unread_notes(request.user)}
    return [
        (
            label,
            reverse(name),
            request.path.startswith(reverse(name)) if name != "roster" else at_roster(request),
            counts.get(name, 0),
        )
        for label, name in DESK
    ]


def unread_notes(user: User) -> int:
    """Open health notes of this coach's athletes that they have not read yet: the mark stays until they do."""
    read = NoteReading.objects.filter(note=OuterRef("pk"), reader=user)
    mine = Athlete.objects.for_user(user).filter(left_on__isnull=True)
    return HealthNote.objects.filter(~Exists(read), athlete__in=mine, closed__isnull=True).count()


def at_roster(request: HttpRequest) -> bool:
    return request.path == reverse("roster") or "/athletes/" in request.path
