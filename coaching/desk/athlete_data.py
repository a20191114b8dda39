"""Everything about one athlete, for the head coach: take it away as a file, or erase it for good."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from coaching import privacy
from coaching.access import CoachRequest, athlete_for, head_only
from coaching.phone.profile import SureForm


@require_GET
@head_only
def athlete_data(request: CoachRequest, pk: int) -> HttpResponse:
    return page(request, pk)


def page(request: CoachRequest, pk: int, form: SureForm | None = None) -> HttpResponse:
    one = athlete_for(request.user, pk)
    counts = sorted(
        (model._meta.verbose_name_plural, len(rows)) for model, rows in privacy.rows_of(one).items()
    )
    context = {"athlete": one, "form": form or SureForm(expected=one.name), "counts": counts}
    return render(request, "desk/athlete_data.html", context, status=422 if form else 200)


@require_GET
@head_only
def export(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    privacy.note_read(one.health_notes.all(), request.user)
    return privacy.as_download(one)


@require_POST
@head_only
def erase(request: CoachRequest, pk: int) -> HttpResponse:
    one = athlete_for(request.user, pk)
    form = SureForm(request.POST, expected=one.name)
    if not form.is_valid():
        return page(request, pk, form)
    rows = privacy.erase(one, by_name=str(request.coach))
    messages.success(
        request, f"Erased: {rows} rows. Backups made before still hold them until they are overwritten."
    )
    return redirect("roster")
