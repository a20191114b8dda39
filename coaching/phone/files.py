"""A run from a file of the watch. Nothing is kept until the athlete has seen what was read and says so."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.core import signing
from django.http import HttpResponse
from django.shortcuts import redirect, render

from athletes.running.tracks import Track, TrackError, read_run
from athletes.running.units import Distance, Duration, Pace
from coaching.access import AthleteRequest, athlete_only, own_session
from coaching.phone.log_forms import HOWS, OLDEST, RunForm
from coaching.phone.logging import EFFORTS, thank
from coaching.phone.reading import Season, season_of
from coaching.uploads import MOST_BYTES, too_big
from plans import filing
from plans.reading import Item, card_of, understood
from plans.recording import Clash, likely_outcome
from plans.training.describing import lines

SALT = "a run from a file"
NEAR = timedelta(1)
NONE = "none"
TOO_BIG = "This file is bigger than 10 MB; a run has less. Nothing was kept."
FASTER_THAN_5K = 0.9


class FileForm(forms.Form):
    # What is too big is said before it is sent: on the road 40 MB are dear.
    file = forms.FileField(
        label="GPX file of one run",
        widget=forms.FileInput(attrs={"accept": ".gpx", "data-most": MOST_BYTES, "data-too-big": TOO_BIG}),
    )


class TrackForm(RunForm):
    """What the file can't say. `read` is what was read from it, signed so that nobody writes it by hand."""

    read = forms.CharField(widget=forms.HiddenInput)
    session = forms.ChoiceField(label="Which session was it?", widget=forms.RadioSelect)
    outcome = forms.ChoiceField(label="How did it go?", choices=HOWS[:3], widget=forms.RadioSelect)


@athlete_only
def log_file(request: AthleteRequest) -> HttpResponse:
    """GET: choose a file. POST a file: what was read from it. POST `read`: keep it."""
    if request.method == "POST" and "read" in request.POST:
        return confirm(request)
    form = FileForm()
    if request.method == "POST":
        form = FileForm(request.POST, request.FILES)
        if too_big(request):
            form.errors["file"] = form.error_class([TOO_BIG])
        elif form.is_valid():
            file = form.cleaned_data["file"]
            try:
                return preview(request, read_run(file.read()), file)
            except TrackError as error:
                form.add_error("file", f"{error} Nothing was kept.")
        elif "empty" in str(form.errors):
            form.errors["file"] = form.error_class(["This file is empty. Save it from the watch once more."])
    return render(request, "phone/file.html", {"form": form}, status=422 if form.errors else 200)


def preview(request: AthleteRequest, track: Track, file: Any) -> HttpResponse:
    file.seek(0)
    sha256 = filing.digest(file.read())
    day = filing.day_of(track, request.athlete)
    today = request.athlete.today()
    if day > today:
        raise TrackError(f"This run is of {day}, which is still to come. Is the clock of the watch right?")
    if day < today - OLDEST:
        raise TrackError(f"This run is of {day}, more than a year ago. Send past runs as a history instead.")
    if filing.known_file(request.athlete, sha256):
        raise TrackError("You sent this very file before.")
    season = season_of(request.athlete)
    read = {"sha256": sha256, "name": file.name, "day": day.isoformat(), "facts": filing.facts_of(track)}
    read["pieces"] = pieces_by_session(season, track, day)
    read["fast"] = faster_than_5k(season, track)
    read["stood"] = {str(item.session_id): str(item.log.pk) for item in near(season, day) if item.log}
    likely = likely_session(season, day)
    initial = {
        "entry_id": uuid4(),
        "day": day,
        "read": signed(request, read),
        "session": str(likely.session_id) if likely else NONE,
        "outcome": likely_outcome(track.distance.mm, likely.planned_mm) if likely else "other",
        "effort": likely.log.effort if likely and likely.log else None,
        "note": likely.log.note if likely and likely.log else "",
    }
    form = TrackForm(athlete=request.athlete, initial=initial)
    return show(request, form, read, season, 200)


def signed(request: AthleteRequest, read: dict[str, Any]) -> str:
    return signing.dumps([request.athlete.pk, read], salt=SALT, compress=True)


def near(season: Season, day: date) -> list[Item]:
    """Runs of the plan that it could be: those of the day and of the days beside it."""
    items = (item for week in season.weeks for item in week.items if item.is_run)
    return [item for item in items if abs(item.day - day) <= NEAR or (item.log and item.log.day == day)]


def likely_session(season: Season, day: date) -> Item | None:
    ranked = sorted(near(season, day), key=lambda item: (item.ran_on != day, item.log is not None))
    return ranked[0] if ranked and ranked[0].ran_on == day else None


def pieces_by_session(season: Season, track: Track, day: date) -> dict[str, list[list[int]]]:
    stored = card_of(season.schedule) if season.schedule else None
    found = {}
    for item in near(season, day):
        steps = understood(item.steps)
        if stored and steps and (pieces := filing.pieces_of(track, steps, stored.card)):
            found[str(item.session_id)] = pieces
    return found


def faster_than_5k(season: Season, track: Track) -> bool:
    """Further than 5 km and a tenth faster than this athlete races 5 km: more likely a ride."""
    stored = card_of(season.schedule) if season.schedule else None
    if stored is None or track.distance < Distance.from_km(5):
        return False
    best = stored.card.ranges["5K"].fast.s_per_km
    return bool(Pace(track.distance, track.moving).s_per_km < best * FASTER_THAN_5K)


def show(
    request: AthleteRequest, form: TrackForm, read: dict[str, Any], season: Season, status: int
) -> HttpResponse:
    items = near(season, date.fromisoformat(read["day"]))
    form.fields["session"].choices = choices(items)  # type: ignore[attr-defined]
    stored = card_of(season.schedule) if season.schedule else None
    facts = read["facts"]
    context = {
        "form": form,
        "read": read,
        "units": season.units,
        "efforts": EFFORTS,
        "day": date.fromisoformat(read["day"]),
        "facts": facts,
        "pace": Pace(Distance(facts["distance_mm"]), Duration(max(facts["moving_s"], 1) * 1000)),
        "pieces": [
            (item, read["pieces"][str(item.session_id)], planned_pace(item, stored, season))
            for item in items
            if str(item.session_id) in read["pieces"]
        ],
    }
    return render(request, "phone/file_read.html", context, status=status)


def planned_pace(item: Item, stored: Any, season: Season) -> str:
    """The pace of the hard pieces where they all have the same."""
    steps = understood(item.steps)
    hard = (
        {line.pace for line in lines(steps, stored.card, season.units) if line.hard}
        if steps and stored
        else set()
    )
    return hard.pop() if len(hard) == 1 else ""


def choices(items: list[Item]) -> list[tuple[str, str]]:
    named = [
        (
            str(item.session_id),
            f"{item.day:%a} {item.day.day}: {item.title}{' (logged: the file replaces it)' if item.log else ''}",
        )
        for item in items
    ]
    return [*named, (NONE, "Not in the plan")]


def confirm(request: AthleteRequest) -> HttpResponse:
    try:
        athlete, read = signing.loads(request.POST["read"], salt=SALT, max_age=86_400)
    except signing.BadSignature:
        athlete, read = None, {}
    if athlete != request.athlete.pk:
        messages.error(request, "What was read from the file got lost on the way. Send the file once more.")
        return redirect("log-file")
    season = season_of(request.athlete)
    form = TrackForm(request.POST, athlete=request.athlete)
    form.fields["session"].choices = choices(near(season, date.fromisoformat(read["day"])))  # type: ignore[attr-defined]
    if not form.is_valid():
        return show(request, form, read, season, 422)
    return keep(request, form, read, season)


def keep(request: AthleteRequest, form: TrackForm, read: dict[str, Any], season: Season) -> HttpResponse:
    """The file's own figures count, whatever the form says of them."""
    chosen, facts = form.cleaned_data["session"], read["facts"]
    form.cleaned_data |= {
        "day": date.fromisoformat(read["day"]),
        "distance": Distance(facts["distance_mm"]),
        "moving": Duration(facts["moving_s"] * 1000),
    }
    session = own_session(request.athlete, UUID(chosen)) if chosen != NONE else None
    outcome = form.cleaned_data["outcome"] if session else "other"
    form.cleaned_data["seen"] = UUID(read["stood"][chosen]) if chosen in read["stood"] else None
    entry = form.entry(outcome)
    facts = facts | {"pieces": read["pieces"].get(chosen, [])}
    try:
        filing.record_track(
            request.athlete,
            session,
            entry,
            sha256=read["sha256"],
            name=read["name"],
            facts=facts,
            by=request.user,
        )
    except Clash as clash:
        form.add_error("session", "Another entry came in for it meanwhile. Keep again to replace that one.")
        read["stood"][chosen] = str(clash.standing.pk)
        form.data = {**form.data.dict(), "read": signed(request, read)}  # type: ignore[attr-defined]
        return show(request, form, read, season, 422)
    except filing.SameFile:
        messages.info(request, "This very file is here already: it counts once.")
        return redirect("today")
    return thank(request, entry, session)
