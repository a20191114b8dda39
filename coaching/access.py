"""Who may see what. A view gets an object only here; a stranger gets 404, never 403."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.db.models import Exists, OuterRef, QuerySet
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, resolve_url
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Athlete, Coach, CoachAthlete, DeskNote, Group, HealthNote, Result, TimeOff, User
from coaching.models import Invitation, Phrase
from plans.models import (
    Assignment,
    CardProposal,
    GroupSession,
    HandoutBatch,
    Job,
    Log,
    NamedSession,
    Proposal,
    Race,
    RaceEntry,
    Schedule,
    Session,
    Template,
)

P = ParamSpec("P")


class SignedIn(HttpRequest):
    """A request of somebody who signed in."""

    user: User
    htmx: HtmxDetails


class CoachRequest(SignedIn):
    coach: Coach


class AthleteRequest(SignedIn):
    athlete: Athlete


def _declared(view: Any, access: str) -> Callable[..., HttpResponseBase]:
    """Says on the view who may see it: a test walks every address and fails for one that does not say."""
    view.access = access
    declared: Callable[..., HttpResponseBase] = view
    return declared


def _to_sign_in(request: HttpRequest) -> HttpResponseBase:
    """A lost session: a page goes to sign-in, htmx is told to go there, JSON gets 401. The entry stays with its sender."""
    if request.headers.get("HX-Request"):
        back = urlsplit(request.headers.get("HX-Current-URL", "")).path or "/"
        return HttpResponse(
            status=204, headers={"HX-Redirect": f"{resolve_url(settings.LOGIN_URL)}?next={back}"}
        )
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"error": "Sign in first."}, status=401)
    return redirect_to_login(request.get_full_path())


def _away(request: HttpRequest, name: str) -> HttpResponseBase:
    """To another page first; htmx is told to go there."""
    to = resolve_url(name)
    if request.headers.get("HX-Request"):
        return HttpResponse(status=204, headers={"HX-Redirect": to})
    back = request.get_full_path() if request.method == "GET" else "/"
    return redirect_to_login(back, login_url=to)


def _coach_of(request: HttpRequest) -> Coach | None:
    """The coach who asks, and in the same query whether they have a second factor."""
    kinds = (TOTPDevice, WebAuthnCredential)
    has = [Exists(kind.objects.filter(user=OuterRef("user"), confirmed=True)) for kind in kinds]
    mine = Coach.objects.filter(user=request.user.pk).select_related("user")
    return mine.annotate(second_factor=has[0] | has[1]).first()


def _second_step(request: HttpRequest, coach: Coach, setting_up: bool = False) -> HttpResponseBase | None:
    """Where a coach must go first: to show the second factor, or to set one up where every coach needs it."""
    if request.user.is_verified():  # type: ignore[union-attr]
        return None
    if coach.second_factor:  # type: ignore[attr-defined]
        return _away(request, "second-step")
    if settings.SECOND_FACTOR_REQUIRED and not setting_up:
        return _away(request, "account")
    return None


# What a guard asks of somebody who signed in: sets what the view needs, raises Http404, or says where to go first.
Admits = Callable[[HttpRequest], HttpResponseBase | None]


def _guard(
    view: Callable[Concatenate[Any, P], HttpResponseBase], access: str, admits: Admits
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    @wraps(view)
    def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if not request.user.is_authenticated:
            return _to_sign_in(request)
        if elsewhere := admits(request):
            return elsewhere
        response = view(request, *args, **kwargs)
        patch_vary_headers(response, ["HX-Request"])
        return response

    return _declared(guarded, access)


def signed_in_only(
    view: Callable[Concatenate[SignedIn, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """For whoever signed in, also before the second step."""
    return _guard(view, "signed in", lambda request: None)


def account_only(
    view: Callable[Concatenate[SignedIn, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """One's own account; a coach with a second factor shows it first, or a stolen password could remove it."""

    def admits(request: HttpRequest) -> HttpResponseBase | None:
        coach = _coach_of(request)
        return _second_step(request, coach, setting_up=True) if coach else None

    return _guard(view, "signed in", admits)


def _admits_coach(request: HttpRequest) -> HttpResponseBase | None:
    coach = _coach_of(request)
    if coach is None:
        raise Http404
    request.coach = coach  # type: ignore[attr-defined]
    return _second_step(request, coach)


def coach_only(
    view: Callable[Concatenate[CoachRequest, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """Sets request.coach; 404 for anybody else who signed in."""
    return _guard(view, "coach", _admits_coach)


def head_only(
    view: Callable[Concatenate[CoachRequest, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """For head coaches; 404 for any other coach."""

    def admits(request: HttpRequest) -> HttpResponseBase | None:
        elsewhere = _admits_coach(request)
        if elsewhere is None and not request.coach.is_head:  # type: ignore[attr-defined]
            raise Http404
        return elsewhere

    return _guard(view, "head coach", admits)


def athlete_only(
    view: Callable[Concatenate[AthleteRequest, P], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, P], HttpResponseBase]:
    """Sets request.athlete, the person's own row; 404 for anybody else who signed in."""

    def admits(request: HttpRequest) -> HttpResponseBase | None:
        athlete = Athlete.objects.filter(user=request.user.pk).first()
        if athlete is None:
            raise Http404
        request.athlete = athlete  # type: ignore[attr-defined]
        return None

    return _guard(view, "athlete", admits)


def athlete_for(user: User, pk: int) -> Athlete:
    return get_object_or_404(Athlete.objects.for_user(user), pk=pk)


def schedule_for(user: User, pk: int) -> Schedule:
    mine = Schedule.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(
        mine.select_related("athlete", "race_entry__race", "template_version__template"), pk=pk
    )


def proposal_for(user: User, pk: int) -> Proposal:
    mine = Proposal.objects.filter(schedule__athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("schedule__athlete", "schedule__race_entry__race"), pk=pk)


def result_for(user: User, pk: int) -> Result:
    mine = Result.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("athlete"), pk=pk)


def card_proposal_for(user: User, pk: int) -> CardProposal:
    mine = CardProposal.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("athlete"), pk=pk)


def invitations_for(user: User) -> QuerySet[Invitation]:
    mine = Invitation.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return mine.select_related("athlete", "coach__user")


def invitation_for(user: User, pk: int) -> Invitation:
    return get_object_or_404(invitations_for(user), pk=pk)


def health_note_for(user: User, pk: int) -> HealthNote:
    mine = HealthNote.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("athlete"), pk=pk)


def desk_note_for(user: User, pk: int) -> DeskNote:
    """What coaches noted about an athlete of this coach's."""
    mine = DeskNote.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine, pk=pk)


def template_for(user: User, pk: int) -> Template:
    """Templates belong to the practice: every coach of it reads them."""
    if not Coach.objects.filter(user=user).exists():
        raise Http404
    return get_object_or_404(Template, pk=pk, archived=False)


def any_template_for(user: User, pk: int) -> Template:
    """The same, put away or not."""
    if not Coach.objects.filter(user=user).exists():
        raise Http404
    return get_object_or_404(Template, pk=pk)


def named_session_for(user: User, pk: int) -> NamedSession:
    """Named sessions belong to the practice, as templates do."""
    if not Coach.objects.filter(user=user).exists():
        raise Http404
    return get_object_or_404(NamedSession, pk=pk)


def assignment_for(user: User, pk: UUID) -> Assignment:
    """Assigning to many is for the coach who began it."""
    mine = Assignment.objects.filter(coach__user=user)
    return get_object_or_404(mine.select_related("template_version__template", "race", "group"), pk=pk)


def groups_for(user: User) -> list[Group]:
    """Groups in which at least one athlete is this coach's."""
    return list(Group.objects.filter(athletes__in=Athlete.objects.for_user(user)).distinct())


def group_for(user: User, pk: int) -> Group:
    """Groups belong to the practice: every coach of it may fill them with athletes of their own."""
    if not Coach.objects.filter(user=user).exists():
        raise Http404
    return get_object_or_404(Group, pk=pk)


def group_session_for(user: User, pk: int) -> GroupSession:
    """A meeting of a group in which at least one athlete is this coach's; a head coach sees all."""
    held = GroupSession.objects.filter(group__in=groups_to_meet(user)).select_related("group")
    return get_object_or_404(held, pk=pk)


def groups_to_meet(user: User) -> QuerySet[Group]:
    """Groups for which this coach may hold a session."""
    groups = Group.objects.all()
    if not Coach.objects.filter(user=user, is_head=True).exists():
        groups = groups.filter(athletes__in=Athlete.objects.for_user(user)).distinct()
    return groups


def coach_athlete_for(user: User, pk: int) -> CoachAthlete:
    mine = CoachAthlete.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("athlete", "coach__user"), pk=pk)


def coach_for(user: User, pk: int) -> Coach:
    """Any coach of the practice, for a head coach."""
    if not Coach.objects.filter(user=user, is_head=True).exists():
        raise Http404
    return get_object_or_404(Coach.objects.select_related("user"), pk=pk)


def batch_for(user: User, pk: UUID) -> HandoutBatch:
    """A batch of handouts is for the coach who asked for it."""
    return get_object_or_404(HandoutBatch, pk=pk, coach__user=user)


def job_of_batch(batch: HandoutBatch) -> Job | None:
    return Job.objects.filter(kind="handouts", key=str(batch.pk)).order_by("-pk").first()


def job_of_assignment(assignment: Assignment) -> Job | None:
    return Job.objects.filter(kind="assign", key=str(assignment.pk)).order_by("-pk").first()


def race_for(user: User, pk: int) -> Race:
    """A race that an athlete of this coach has entered."""
    mine = RaceEntry.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(Race.objects.filter(pk__in=mine.values("race")).select_related("course"), pk=pk)


def entry_for(user: User, pk: int) -> RaceEntry:
    mine = RaceEntry.objects.filter(athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("athlete", "race__course", "plan", "report"), pk=pk)


def own_entry(athlete: Athlete, pk: int) -> RaceEntry:
    mine = RaceEntry.objects.filter(athlete=athlete)
    return get_object_or_404(mine.select_related("athlete", "race__course", "plan", "report"), pk=pk)


def own_session(athlete: Athlete, pk: UUID) -> Session:
    return get_object_or_404(
        Session.objects.filter(schedule__athlete=athlete).select_related("schedule"), pk=pk
    )


def own_log(athlete: Athlete, pk: UUID) -> Log:
    """An entry of the athlete's own, whether it still stands or was replaced."""
    return get_object_or_404(Log.objects.filter(athlete=athlete).select_related("athlete"), pk=pk)


def own_time_off(athlete: Athlete, pk: int) -> TimeOff:
    return get_object_or_404(TimeOff.objects.filter(athlete=athlete).select_related("athlete"), pk=pk)


def session_for(user: User, pk: UUID) -> Session:
    """One session of an athlete whom this coach may see."""
    mine = Session.objects.filter(schedule__athlete__in=Athlete.objects.for_user(user))
    return get_object_or_404(mine.select_related("schedule__athlete"), pk=pk)


def phrase_for(coach: Coach, pk: int) -> Phrase:
    """Phrases are each coach's own."""
    return get_object_or_404(Phrase, coach=coach, pk=pk)
