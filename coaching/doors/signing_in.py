"""Sign in by password, sign out, home, health."""

from __future__ import annotations

import time
from typing import Any

from django.contrib.auth import login
from django.contrib.auth import views as auth
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from athletes.models import Athlete, Coach, User
from coaching.doors import throttle
from coaching.doors.devices import device_words
from coaching.faults import AWAY

LINK_PROVES_S = 60 * 60


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "That address and password do not belong together. Capitals count in the password.",
        "inactive": "This account is closed. Ask your coach.",
        "throttled": throttle.WAIT,
    }

    def clean(self) -> dict[str, Any]:
        account = self.cleaned_data.get("username") or ""
        assert self.request is not None
        if throttle.too_many(self.request, "password", account):
            raise ValidationError(self.error_messages["throttled"], code="throttled")
        try:
            data = super().clean()
        except ValidationError:
            throttle.count(self.request, "password", account)
            raise
        throttle.forgive(self.request, "password", account)
        return data

    def clean_username(self) -> str:
        return str(self.cleaned_data["username"]).strip().lower()


class SignIn(auth.LoginView):
    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        user = form.get_user()
        assert isinstance(user, User)
        let_in(self.request, user)
        return redirect(self.get_success_url())

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


sign_in = SignIn.as_view()
sign_out = auth.LogoutView.as_view(next_page="sign-in")


def let_in(request: HttpRequest, user: User, *, by_link: bool = False) -> None:
    """Sign in on this device, and keep in words which device it is. A link lets the password be set anew."""
    login(
        request, user, backend=getattr(user, "backend", None) or "django.contrib.auth.backends.ModelBackend"
    )
    request.session["device"] = device_words(request.headers.get("User-Agent", ""))
    if by_link:
        note_link(request)


def note_link(request: HttpRequest) -> None:
    """They came by a link from their own mail, now: see `came_by_link`."""
    request.session["by_link"] = int(time.time())


def came_by_link(request: HttpRequest) -> bool:
    """Lately enough that it is still the one who read the mail; a phone left open a week later proves nothing."""
    return bool(time.time() - (request.session.get("by_link") or 0) < LINK_PROVES_S)


def safe_next(request: HttpRequest, wished: str | None) -> str:
    """A path of this site to go on to, or nothing."""
    fine = url_has_allowed_host_and_scheme(wished, {request.get_host()}, require_https=request.is_secure())
    return wished if wished and fine else ""


def home(request: HttpRequest) -> HttpResponseBase:
    """To the desk or the phone, by who it is; a coach who runs starts at the desk."""
    if not request.user.is_authenticated:
        return redirect("sign-in")
    if Coach.objects.filter(user=request.user).exists():
        return redirect("roster")
    athlete = Athlete.objects.filter(user=request.user).first()
    if athlete is not None:
        return redirect("welcome", step=athlete.joining) if athlete.joining else redirect("today")
    return redirect("account")


def health(request: HttpRequest) -> JsonResponse:
    """For a proxy: 200 when the database answers, 503 when it does not."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except AWAY:
        return JsonResponse({"ok": False}, status=503)
    return JsonResponse({"ok": True})
