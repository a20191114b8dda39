"""A season plan as a file: download it, upload one, look at what it says, keep it. docs/template-file.md."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.files import File
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.text import slugify

from coaching.access import CoachRequest, coach_only, template_for
from coaching.desk.board import KIND_WORDS, example_for
from plans import drafting
from plans.reading import title_of
from plans.training.template import Problem, Template, TemplateError
from plans.training.template_csv import read_csv, write_csv
from plans.training.template_editing import duplicated
from plans.training.template_file import read_template, write_json, write_yaml

LARGEST = 200_000  # bytes; the longest plan of the library has some 40,000
WRITERS = {
    "yaml": (write_yaml, "application/yaml"),
    "json": (write_json, "application/json"),
    "csv": (write_csv, "text/csv"),
}


@coach_only
def download(request: CoachRequest, pk: int, kind: str) -> HttpResponse:
    one = template_for(request.user, pk)
    if kind not in WRITERS:
        raise Http404
    write, content_type = WRITERS[kind]
    response = HttpResponse(write(one.latest.plan), content_type=f"{content_type}; charset=utf-8")
    name = slugify(one.name) or "season-plan"
    response["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return response


class UploadForm(forms.Form):
    """A file, or after it was read its text: then nothing has to be chosen again to keep it."""

    file = forms.FileField(
        label="File",
        required=False,
        allow_empty_file=True,
        help_text="YAML, JSON or CSV as described in docs/template-file.md, at most 200 kB.",
        widget=forms.ClearableFileInput(attrs={"accept": ".yaml,.yml,.json,.csv,.txt"}),
    )
    text = forms.CharField(required=False, widget=forms.HiddenInput, max_length=LARGEST, strip=False)
    kind = forms.ChoiceField(
        required=False, choices=[("plan", "plan"), ("csv", "csv")], widget=forms.HiddenInput
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        file = data.get("file")
        if file is not None:
            data["text"], data["kind"] = (
                self._read(file),
                "csv" if file.name.lower().endswith(".csv") else "plan",
            )
        elif not data.get("text"):
            self.add_error("file", "Choose a file first.")
        return data

    def _read(self, file: File[bytes]) -> str:
        if (file.size or 0) > LARGEST:
            self.add_error(
                "file", f"The file has {(file.size or 0) // 1000} kB; at most {LARGEST // 1000} can be read."
            )
            return ""
        raw: bytes = file.read()
        if not raw.strip():
            self.add_error("file", "The file is empty.")
            return ""
        try:
            return raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            self.add_error("file", "This isn't a text in UTF-8. Save it as YAML, JSON, or CSV in UTF-8.")
            return ""


def read(text: str, kind: str) -> tuple[Template | None, tuple[Problem, ...]]:
    try:
        return (read_csv(text) if kind == "csv" else read_template(text)), ()
    except TemplateError as error:
        return None, error.problems


@coach_only
def upload(request: CoachRequest) -> HttpResponse:
    """GET the form; POST shows what the file says, or what is wrong with it; POST again keeps it as a new template."""
    form = UploadForm(*((request.POST, request.FILES) if request.method == "POST" else ()))
    plan: Template | None = None
    found: tuple[Problem, ...] = ()
    if request.method == "POST" and form.is_valid():
        plan, found = read(form.cleaned_data["text"], form.cleaned_data["kind"])
        if plan is not None and request.POST.get("do") == "keep":
            # Keys of its own: the file may come from a template that goes on living beside it.
            made = drafting.begin(duplicated(plan, plan.name), by=request.coach, what="read from a file")
            messages.success(request, f"{plan.name} is kept as a template.")
            return redirect("template", pk=made.template_id)
        form = UploadForm(initial={"text": form.cleaned_data["text"], "kind": form.cleaned_data["kind"]})
    units = example_for(request).units
    context = {
        "form": form,
        "plan": plan,
        "problems": found,
        "weeks": [
            (n, KIND_WORDS[week.kind], week, [(s, title_of(s.text, units)) for s in week.sessions])
            for n, week in enumerate(plan.weeks if plan else (), start=1)
        ],
    }
    return render(request, "desk/template_upload.html", context, status=422 if form.errors or found else 200)
