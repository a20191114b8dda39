"""What the demo club said to each other: one thread that goes back and forth, two words not read yet, one to a group."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

from django.utils import timezone

from athletes.models import Athlete, Coach, Group
from coaching.models import Phrase
from plans import saying, unread
from plans.models import Message, SessionIssue

PHRASES = {
    "Sleep": "Sleep first, miles second. Write to me if it stays like this.",
    "Well run": "Well run. Keep the easy days easy, and enjoy the week.",
    "Clinician": "That is more than I can judge from here. Please let a clinician look at it before you run again.",
}


def talk(coaches: list[Coach]) -> None:
    """After the club is there: the demo's own athlete and two others of the first coach."""
    coach = coaches[0]
    Phrase.objects.bulk_create(Phrase(coach=coach, name=name, words=words) for name, words in PHRASES.items())
    mine = Athlete.objects.filter(coachathlete__coach=coach)
    group = Group.objects.filter(athletes__in=mine).first()
    if group is not None:
        words = "The track is closed on Tuesday. We meet at the boathouse instead, same time."
        members = list(mine.filter(groups=group).distinct())
        saying.say_to_many(members, words, coach=coach, to=f"the group {group.name}", key=uuid4())
        Message.objects.filter(sending__isnull=False).update(at=timezone.now() - timedelta(days=9))
    athlete = Athlete.objects.filter(user__email="athlete@example.org").first()
    if athlete is None:
        return
    past = SessionIssue.objects.filter(
        schedule__athlete=athlete, to_version=None, role="quality", day__lt=athlete.today()
    ).latest("day")
    thread = (
        (1.6, False, "Windy on the sea wall, so I ran the repeats by feel. Is that all right?", past),
        (1.2, True, "It is. In wind the watch lies, your breath doesn’t.", past),
        (0.1, True, "How did the calf take it? Tell me before the weekend.", None),
    )
    for days, by_coach, words, issue in thread:
        said = saying.say(
            athlete,
            words,
            by=coach.user if by_coach else athlete.user,
            by_coach=by_coach,
            session=issue.session if issue else None,
        )
        Message.objects.filter(pk=said.pk).update(at=timezone.now() - timedelta(days=days))
    unread.mark(athlete.messages.filter(at__lt=timezone.now() - timedelta(days=1)), coach.user)
    for one in mine.exclude(pk=athlete.pk).order_by("name")[:2]:
        saying.say(one, "Could I move Sunday’s run to Saturday? Family lunch.", by=one.user, by_coach=False)
