"""Training groups: made, renamed, filled and taken away. They grant nothing: who sees whom is on dated rows."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from athletes.models import Athlete, Group, Membership
from coaching.access import CoachRequest, coach_only, group_for


class GroupForm(forms.ModelForm):  # type: ignore[type-arg]  # not subscriptable when it runs
    class Meta:
        model = Group
        fields = ("name",)
        error_messages = {"name": {"unique": "There is a group of this name already."}}


class MembersForm(GroupForm):
    athletes = forms.ModelMultipleChoiceField(
        Athlete.objects.none(), label="Who trains in it", required=False, widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, mine: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["athletes"].queryset = mine  # type: ignore[attr-defined]
        self.fields["athletes"].initial = list(mine.filter(groups=self.instance))


@coach_only
def groups(request: CoachRequest) -> HttpResponse:
    """GET the groups; POST makes one."""
    form = GroupForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return redirect("training-group", pk=form.save().pk)
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    counted = Group.objects.annotate(mine=Count("athletes", filter=Q(athletes__in=mine)))
    context = {"form": form, "groups": counted}
    return render(request, "desk/groups.html", context, status=422 if form.errors else 200)


@coach_only
def group(request: CoachRequest, pk: int) -> HttpResponse:
    """Name and members; of the members only this coach's own are shown and changed."""
    one = group_for(request.user, pk)
    mine = Athlete.objects.for_user(request.user).filter(left_on__isnull=True)
    form = MembersForm(request.POST or None, instance=one, mine=mine)
    if request.method == "POST" and form.is_valid():
        wanted = set(form.cleaned_data["athletes"].values_list("pk", flat=True))
        with transaction.atomic():
            form.save()
            Membership.objects.filter(group=one, athlete__in=mine).exclude(athlete__in=wanted).delete()
            Membership.objects.bulk_create(
                (Membership(group=one, athlete_id=key) for key in wanted), ignore_conflicts=True
            )
        messages.success(request, f"{one.name}: {len(wanted)} of your athletes.")
        return redirect("training-groups")
    return render(
        request, "desk/group.html", {"form": form, "group": one}, status=422 if form.errors else 200
    )


@require_POST
@coach_only
def remove(request: CoachRequest, pk: int) -> HttpResponse:
    """Take a group away; its athletes stay. Not while another coach's athletes are in it."""
    one = group_for(request.user, pk)
    if one.athletes.exclude(pk__in=Athlete.objects.for_user(request.user)).exists():
        messages.error(request, f"Athletes of other coaches train in {one.name}.")
        return redirect("training-group", pk=pk)
    one.delete()
    messages.success(request, f"The group {one.name} is gone; its athletes stay.")
    return redirect("training-groups")
