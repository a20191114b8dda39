"""Who runs and who coaches: the practice, its people, their groups, their free days."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import CheckConstraint, Q, UniqueConstraint
from django.db.models.functions import Lower
from django.utils import timezone

if TYPE_CHECKING:
    from django.db.models.fields.related_descriptors import RelatedManager

UNITS = [("km", "kilometres"), ("mi", "miles")]
WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
DAY_FIELDS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]


def check_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(f"“{name}” is not a time zone this machine knows; try one like Europe/Lisbon.")


class Practice(models.Model):
    """The one practice of this installation."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    name = models.CharField(max_length=80)
    units = models.CharField(max_length=2, choices=UNITS, default="km")
    time_zone = models.CharField(max_length=60, default="UTC", validators=[check_time_zone])
    week_starts = models.PositiveSmallIntegerField(default=0, choices=list(enumerate(WEEKDAYS)))
    paper = models.CharField(max_length=6, default="A4", choices=[("A4", "A4"), ("Letter", "US Letter")])
    # Printed in a box before the name.
    mark = models.CharField(max_length=3, blank=True)
    address_lines = models.CharField(max_length=200, blank=True)
    # What a small proposal is: accepted together with the others like it, or by itself for who asked for that.
    small_cut_percent = models.PositiveSmallIntegerField(default=15)
    small_spares_key = models.BooleanField(default=True)
    # Who needs a word: the numbers that differ, by the rule's name in `plans.attention_rules`; None switches one off.
    attention = models.JSONField(default=dict, blank=True)
    # On Sundays at this hour, in the practice's time zone, next week's handouts are made; empty: only when asked.
    handout_hour = models.PositiveSmallIntegerField(null=True, blank=True, default=18)

    class Meta:
        constraints = [
            CheckConstraint(condition=Q(id=1), name="one_practice"),
            CheckConstraint(condition=Q(handout_hour__lte=23), name="handouts_at_an_hour_of_the_day"),
            CheckConstraint(condition=Q(small_cut_percent__lte=100), name="small_cut_is_per_cent"),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def get(cls) -> Practice:
        return cls.objects.get_or_create(id=1, defaults={"name": "Our practice"})[0]


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, name: str = "") -> User:
        user = self.model(email=email.strip().lower(), name=name)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, email: str | None) -> User:
        return self.get(email=(email or "").strip().lower())


class User(AbstractBaseUser):
    """Someone who signs in. One person may be a coach and an athlete."""

    email = models.EmailField(unique=True)  # in lower case, so that unique means what people mean
    name = models.CharField(max_length=80)
    is_active = models.BooleanField(default=True)
    # When a link mailed there came back. Until then the address gets nothing but the links that confirm it.
    confirmed_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "email"
    objects = UserManager()

    class Meta:
        constraints = [CheckConstraint(condition=Q(email=Lower("email")), name="address_in_lower_case")]

    def __str__(self) -> str:
        return self.name or self.email


class Coach(models.Model):
    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="coach")
    is_head = models.BooleanField(default=False)

    def __str__(self) -> str:
        return str(self.user)


class AthleteQuerySet(models.QuerySet["Athlete"]):
    def for_user(self, user: User) -> AthleteQuerySet:
        """The permission rule: whom this person may see. A head coach all, a coach their own, an athlete none here."""
        coach = Coach.objects.filter(user=user).first()
        if coach is None:
            return self.none()
        if coach.is_head:
            return self.all()
        today = timezone.now().date()
        mine = CoachAthlete.objects.filter(coach=coach, since__lte=today).filter(
            Q(until__isnull=True) | Q(until__gte=today)
        )
        return self.filter(id__in=mine.values("athlete_id"))


class Athlete(models.Model):
    user = models.OneToOneField(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="athlete"
    )
    name = models.CharField(max_length=80)
    units = models.CharField(max_length=2, choices=UNITS, default="km")
    time_zone = models.CharField(max_length=60, default="UTC", validators=[check_time_zone])
    born = models.DateField(null=True, blank=True)
    no_plan_reason = models.CharField(max_length=200, blank=True)
    auto_small = models.BooleanField(default=False)
    declared_weekly_mm = models.PositiveBigIntegerField(default=0)
    declared_longest_mm = models.PositiveBigIntegerField(default=0)
    resting_rate = models.PositiveSmallIntegerField(null=True, blank=True)
    maximum_rate = models.PositiveSmallIntegerField(null=True, blank=True)
    # Empty: the practice's day. Counts for the next schedule; a running one keeps its own.
    week_starts = models.PositiveSmallIntegerField(null=True, blank=True, choices=list(enumerate(WEEKDAYS)))
    goal_words = models.CharField(max_length=200, blank=True)
    guardian = models.CharField(max_length=80, blank=True)  # who agreed for somebody under 18
    consent_at = models.DateTimeField(null=True, blank=True)
    wants_mail = models.BooleanField(
        default=True
    )  # that a word or the week's page is there; sign-in links come anyway
    joining = models.CharField(max_length=10, blank=True)  # the step at which joining stands; empty when done
    left_on = models.DateField(null=True, blank=True)
    coaches = models.ManyToManyField(Coach, through="CoachAthlete", related_name="athletes")

    objects = AthleteQuerySet.as_manager()

    if TYPE_CHECKING:
        schedules: RelatedManager[models.Model]

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def today(self, now: datetime | None = None) -> date:
        """The calendar date where the athlete is."""
        return (now or timezone.now()).astimezone(ZoneInfo(self.time_zone)).date()


class CoachAthlete(models.Model):
    """A dated row grants access; groups never do."""

    coach = models.ForeignKey(Coach, on_delete=models.CASCADE)
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            UniqueConstraint(
                fields=["coach", "athlete"],
                condition=Q(until__isnull=True),
                name="one_open_row_a_coach_and_athlete",
            ),
            CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=models.F("since")),
                name="coach_row_ends_after_it_begins",
            ),
        ]


class Group(models.Model):
    """A training group: for lists, sheets and handouts. It grants nothing."""

    name = models.CharField(max_length=60, unique=True)
    athletes = models.ManyToManyField(Athlete, through="Membership", related_name="groups")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    group = models.ForeignKey(Group, on_delete=models.CASCADE)
    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE)

    class Meta:
        constraints = [UniqueConstraint(fields=["group", "athlete"], name="once_in_a_group")]


class Availability(models.Model):
    """Minutes free on each weekday from a day on; 0 means the day is not free."""

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="availabilities")
    valid_from = models.DateField()
    mon = models.PositiveSmallIntegerField(default=0)
    tue = models.PositiveSmallIntegerField(default=0)
    wed = models.PositiveSmallIntegerField(default=0)
    thu = models.PositiveSmallIntegerField(default=0)
    fri = models.PositiveSmallIntegerField(default=0)
    sat = models.PositiveSmallIntegerField(default=0)
    sun = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["valid_from"]
        constraints = [UniqueConstraint(fields=["athlete", "valid_from"], name="one_availability_a_day")]

    def minutes(self) -> tuple[int, ...]:
        """Monday to Sunday."""
        return tuple(getattr(self, name) for name in DAY_FIELDS)


class TimeOff(models.Model):
    """Days known ahead with fewer minutes, or none."""

    KINDS = [
        ("travel", "travel"),
        ("family", "family or work"),
        ("rest", "a rest"),
        ("other", "something else"),
    ]

    athlete = models.ForeignKey(Athlete, on_delete=models.CASCADE, related_name="time_off")
    first_day = models.DateField()
    last_day = models.DateField()
    minutes = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(max_length=10, choices=KINDS, default="travel")

    class Meta:
        ordering = ["first_day"]
        constraints = [
            CheckConstraint(
                condition=Q(last_day__gte=models.F("first_day")), name="time_off_ends_after_it_begins"
            )
        ]
