from __future__ import annotations

from django.db import models


class BackupRun(models.Model):
    """One try at a backup. The desk says when the last good one was."""

    at = models.DateTimeField()
    file = models.CharField(max_length=200, blank=True)
    size = models.PositiveBigIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-at"]

    @property
    def good(self) -> bool:
        return not self.error
