"""Pages with words only."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from coaching.tidying import kept_for


@require_safe
def privacy(request: HttpRequest) -> HttpResponse:
    return render(request, "doors/privacy.html", {"kept_for": kept_for()})
