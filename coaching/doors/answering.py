"""A message answered by the link in its mail, by somebody who stays signed out."""

from __future__ import annotations

from uuid import uuid4

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache

from coaching import answering
from coaching.doors import throttle
from plans import saying, unread
from plans.models import Message
from plans.models.messages import MOST_WORDS
from plans.reading import title_of


class AnswerForm(forms.Form):
    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    words = forms.CharField(
        label="Your answer",
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 4}),
        error_messages={"required": "Write a word first; nothing was sent."},
    )


@never_cache
def answer(request: HttpRequest, token: str) -> HttpResponse:
    """GET: the one message and a form, if the link is still good. POST: the answer, and the link has served."""
    message = answering.message_of(token)
    if message is None:
        return render(request, "doors/no_answer.html", {"days": answering.LASTS.days}, status=410)
    form = AnswerForm(request.POST or None, initial={"entry_id": uuid4()})
    if request.method == "POST" and throttle.too_many(request, "answer", str(message.key)):
        form.add_error(None, throttle.WAIT)
    elif request.method == "POST":
        throttle.count(request, "answer", str(message.key))
        if form.is_valid():
            return keep(request, message, form)
    context = {"form": form, "said": message, "session": session_words(message)}
    return render(request, "doors/answer.html", context, status=422 if form.errors else 200)


def keep(request: HttpRequest, message: Message, form: AnswerForm) -> HttpResponse:
    """Only this message counts as read by it: what else stands in the thread was not shown."""
    user = message.athlete.user
    assert user is not None
    said = saying.answer(message, form.cleaned_data["words"], key=form.cleaned_data["entry_id"])
    unread.mark(message.athlete.messages.filter(pk=message.pk), user)
    return render(request, "doors/answered.html", {"said": said, "coach": message.author_name})


def session_words(message: Message) -> str:
    """The session it is about, as it stands: its day and its name."""
    if message.session is None:
        return ""
    issue = message.session.issues.filter(to_version=None).first()
    if issue is None:
        return ""
    units = "mi" if message.athlete.units == "mi" else "km"
    return f"{issue.day:%a} {issue.day.day} {issue.day:%B}: {title_of(issue.steps, units)}"
