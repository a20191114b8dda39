"""Keep what a coach writes into a template. Each save is a version; nothing is overwritten, undo is a version too."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from django.db import IntegrityError, transaction

from athletes.models import Coach, Practice
from plans.models import GuardRails, Schedule, Template, TemplateVersion
from plans.models.template import store
from plans.training import template as core
from plans.training.guardrails import Rails
from plans.training.template_editing import duplicated
from plans.training.template_file import template_to_values

KEPT = 200
"""So many versions of a template stay; older ones go unless a schedule was fitted from them."""


class StaleTemplate(Exception):
    """Another version was saved since the one this change was made on."""

    def __init__(self, newest: TemplateVersion) -> None:
        who = f" by {newest.by_name}" if newest.by_name else ""
        what = f": {newest.what}" if newest.what else ""
        super().__init__(f"Version {newest.number} was saved{who} meanwhile{what}.")
        self.newest = newest


def save(
    template: Template,
    base: int,
    plan: core.Template,
    *,
    by: Coach,
    what: str,
    restored: int | None = None,
) -> TemplateVersion:
    """Keep the plan as the version after `base`; the newest itself when nothing changed.

    Raises TemplateError when the plan is not well formed, StaleTemplate when `base` is not the newest.
    """
    found = core.problems(plan)
    if found:
        raise core.TemplateError(found)
    content = template_to_values(plan)
    with transaction.atomic():
        newest = template.latest
        if newest.number != base:
            raise StaleTemplate(newest)
        if newest.content == content:
            return newest
        try:
            with transaction.atomic():
                made = TemplateVersion.objects.create(
                    template=template,
                    number=base + 1,
                    content=content,
                    by_name=str(by)[:80],
                    what=what[:160],
                    restored=restored,
                )
        except IntegrityError:  # saved in the same moment from somewhere else
            raise StaleTemplate(template.latest) from None
        if template.name != plan.name[:80]:
            template.name = plan.name[:80]
            template.save(update_fields=["name"])
        _forget_old(template, made.number)
    return made


def change(
    template: Template,
    base: int,
    edit: Callable[[core.Template], core.Template],
    *,
    by: Coach,
    what: str,
) -> TemplateVersion:
    """Save what `edit` makes of the newest version, if that is the one the coach saw."""
    newest = template.latest
    if newest.number != base:
        raise StaleTemplate(newest)
    return save(template, base, edit(newest.plan), by=by, what=what)


def undoable(version: TemplateVersion) -> TemplateVersion | None:
    """The version that an undo brings back: the one before the edit that still stands."""
    numbers = {v.number: v for v in version.template.versions.only("number", "restored", "template")}
    at = version.number
    while at in numbers and (back := numbers[at].restored) is not None:
        at = back
    return numbers.get(at - 1)


def restore(template: Template, base: int, former: TemplateVersion, *, by: Coach) -> TemplateVersion:
    """A former version's content as the newest. The name stays: it is the template's, not the version's."""
    plan = replace(former.plan, name=template.name)
    return save(
        template, base, plan, by=by, what=f"version {former.number} brought back", restored=former.number
    )


def duplicate(template: Template, *, by: Coach) -> TemplateVersion:
    name = f"{template.name[:70]}, a copy"
    return begin(duplicated(template.latest.plan, name), by=by, what=f"copied from {template.name}")


@transaction.atomic
def begin(plan: core.Template, *, by: Coach, what: str) -> TemplateVersion:
    """A new template with its first version. Raises TemplateError."""
    found = core.problems(plan)
    if found:
        raise core.TemplateError(found)
    version = store(plan, by)
    version.by_name, version.what = str(by)[:80], what[:160]
    version.save(update_fields=["by_name", "what"])
    return version


def rails_of(template: Template) -> Rails:
    """The guard rails a template is looked at with: its own, then the practice's."""
    own = GuardRails.objects.filter(template=template).first()
    practice = GuardRails.objects.filter(practice=Practice.get()).first()
    return Rails.nearest(None, own.limits if own else None, practice.limits if practice else None)


def _forget_old(template: Template, newest: int) -> None:
    old = template.versions.filter(number__lte=newest - KEPT)
    old.exclude(pk__in=Schedule.objects.values("template_version")).delete()
