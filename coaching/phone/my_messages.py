"""Messages on the phone: what the coach said, and a word back; also without signal, then it waits on the phone."""

from __future__ import annotations

from uuid import uuid4

from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import AthleteRequest, athlete_only
from coaching.phone.logging import as_json
from coaching.phone.words import WordForm, keep_word
from plans import unread

A_PAGE = 30


@athlete_only
def messages(request: AthleteRequest) -> HttpResponse:
    """GET shows the thread, newest first; POST says a word."""
    form = WordForm(request.POST if request.method == "POST" else None, initial={"entry_id": uuid4()})
    form.fields["words"].label = "A word to your coach"
    if request.method == "POST":
        answer = keep_word(request, form, None)
        if answer is not None:
            return answer
    said = request.athlete.messages.select_related("session").order_by("-pk")
    before = unread.keys_of([request.GET.get("before", "")])
    if before:
        said = said.filter(pk__lt=before[0])
    rows = list(said[: A_PAGE + 1])
    context = {
        "rows": rows[:A_PAGE],
        "earlier": rows[A_PAGE - 1].pk if len(rows) > A_PAGE else None,
        "fresh": set(unread.by_athlete(request.athlete).values_list("pk", flat=True)),
        "form": form,
    }
    return render(request, "phone/messages.html", context, status=422 if form.errors else 200)


@require_POST
@athlete_only
def read(request: AthleteRequest) -> HttpResponse:
    """That the athlete has read what the page showed. The page sends it by itself where there is JavaScript."""
    shown = unread.keys_of(request.POST.getlist("message"))
    unread.mark(request.athlete.messages.filter(by_coach=True, pk__in=shown), request.user)
    return JsonResponse({"read": len(shown)}) if as_json(request) else redirect("my-messages")
