"""What a coach writes once. A version is never changed: issued schedules name the one they were fitted from.

The content is kept whole, in the form of the template file (`docs/template-file.md`): it is always read whole,
and `plans.training.template` says what is well formed. Session keys live inside and are kept across versions.
"""

from __future__ import annotations

from django.db import models
from django.db.models import UniqueConstraint
from django.db.models.functions import Lower

from athletes.models import Coach
from plans.training import template as core
from plans.training.template_file import template_from_values, template_to_values

WEEK_KINDS = [(kind, kind) for kind in core.KINDS]
ROLES = [(role, role) for role in core.ROLES]


class Template(models.Model):
    """A season plan's name and owner; what it says is its newest version."""

    name = models.CharField(max_length=80)
    owner = models.ForeignKey(
        Coach, null=True, blank=True, on_delete=models.SET_NULL, related_name="templates"
    )
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def latest(self) -> TemplateVersion:
        return self.versions.order_by("-number")[0]


class TemplateVersion(models.Model):
    template = models.ForeignKey(Template, on_delete=models.CASCADE, related_name="versions")
    number = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField(auto_now_add=True)
    by_name = models.CharField(max_length=80, blank=True)
    what = models.CharField(max_length=160, blank=True)
    # The number whose content this version brought back, if an undo made it.
    restored = models.PositiveIntegerField(null=True, blank=True)
    content = models.JSONField()

    class Meta:
        constraints = [UniqueConstraint(fields=["template", "number"], name="one_template_version_a_number")]

    @property
    def plan(self) -> core.Template:
        return template_from_values(self.content)


class NamedSession(models.Model):
    """A coach's own words for an often used session: what stands on the board, and why, in a sentence."""

    name = models.CharField(max_length=60)
    role = models.CharField(max_length=8, choices=ROLES)
    steps = models.CharField(max_length=core.LONGEST_TEXT)
    purpose = models.CharField(max_length=core.LONGEST_PURPOSE, blank=True)
    by = models.ForeignKey(Coach, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = [Lower("name")]
        constraints = [UniqueConstraint(Lower("name"), name="one_named_session_a_name")]

    def __str__(self) -> str:
        return self.name


def store(plan: core.Template, owner: Coach | None = None) -> TemplateVersion:
    """A new template with its first version."""
    made = Template.objects.create(name=plan.name[:80], owner=owner)
    return TemplateVersion.objects.create(template=made, content=template_to_values(plan))
