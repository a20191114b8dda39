"""Plan templates: the list, a new one, copies, the archive, versions."""

from __future__ import annotations

from pathlib import Path

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from coaching.access import CoachRequest, any_template_for, coach_only, template_for
from coaching.desk.template import base_of
from coaching.fields import DistanceField
from plans import drafting
from plans.models import Template, TemplateVersion
from plans.training import template as core
from plans.training.template_editing import blank, duplicated
from plans.training.template_file import read_template

LIBRARY = Path(settings.BASE_DIR) / "plans" / "library"


def library() -> list[tuple[str, core.Template]]:
    """Our own plans, by the name of their file."""
    return [(path.stem, read_template(path.read_text())) for path in sorted(LIBRARY.glob("*.yaml"))]


@coach_only
def templates(request: CoachRequest) -> HttpResponse:
    newest = {
        version.template_id: version
        for version in TemplateVersion.objects.filter(template__archived=False).order_by("number")
    }
    rows = [
        (template, newest[template.pk], newest[template.pk].plan)
        for template in Template.objects.filter(archived=False)
    ]
    archived = Template.objects.filter(archived=True)
    return render(request, "desk/templates.html", {"rows": rows, "archived": archived})


class NewForm(forms.Form):
    name = forms.CharField(label="Name", max_length=80)
    weeks = forms.IntegerField(label="Weeks", min_value=1, max_value=core.MOST_WEEKS, initial=12)
    race = DistanceField(
        label="Race", required=False, help_text="Like marathon or 10 km; empty for a block without a race."
    )


@coach_only
def new(request: CoachRequest) -> HttpResponse:
    """From scratch, or from a plan of the library."""
    form = NewForm(request.POST or None)
    plans = library()
    if request.method == "POST" and "plan" in request.POST:
        chosen = dict(plans).get(request.POST["plan"])
        if chosen is None:
            raise Http404
        made = drafting.begin(
            duplicated(chosen, chosen.name), by=request.coach, what="taken from the library"
        )
        return redirect("template", pk=made.template_id)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            plan = blank(data["name"].strip(), data["weeks"], data["race"].mm if data["race"] else None)
            made = drafting.begin(plan, by=request.coach, what="begun")
        except core.TemplateError as error:
            for problem in error.problems:
                form.add_error(None, str(problem))
        else:
            return redirect("template", pk=made.template_id)
    context = {"form": form, "library": plans}
    return render(request, "desk/template_new.html", context, status=422 if form.errors else 200)


@require_POST
@coach_only
def duplicate(request: CoachRequest, pk: int) -> HttpResponse:
    made = drafting.duplicate(template_for(request.user, pk), by=request.coach)
    messages.success(request, "A copy with a life of its own. Give it a name.")
    return redirect("template-facts", pk=made.template_id)


@require_POST
@coach_only
def archive(request: CoachRequest, pk: int) -> HttpResponse:
    """Out of the list, or back into it. Schedules fitted from it stay as they are."""
    one = any_template_for(request.user, pk)
    one.archived = not one.archived
    one.save(update_fields=["archived"])
    messages.success(
        request,
        f"{one.name} is put away; schedules made from it go on."
        if one.archived
        else f"{one.name} is back in the list.",
    )
    return redirect("templates")


@coach_only
def versions(request: CoachRequest, pk: int) -> HttpResponse:
    one = template_for(request.user, pk)
    rows = list(one.versions.defer("content").order_by("-number")[:100])
    return render(request, "desk/template_versions.html", {"template": one, "rows": rows, "newest": rows[0]})


@require_POST
@coach_only
def restore(request: CoachRequest, pk: int, number: int) -> HttpResponse:
    one = template_for(request.user, pk)
    former = one.versions.filter(number=number).first()
    if former is None:
        raise Http404
    try:
        made = drafting.restore(one, base_of(request), former, by=request.coach)
    except drafting.StaleTemplate as stale:
        messages.error(request, f"{stale} Nothing was changed.")
        return redirect("template-versions", pk=pk)
    messages.success(request, f"Version {number} is back, as version {made.number}.")
    return redirect("template", pk=pk)
