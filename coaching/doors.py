"""The doors: sign in, sign out, home, health."""

from __future__ import annotations

from django.contrib.auth import views as auth
from django.contrib.auth.forms import AuthenticationForm
from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect

from athletes.models import Athlete, Coach


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": "That address and password do not belong together. Capitals count in the password.",
        "inactive": "This account is closed. Ask your coach.",
    }


class SignIn(auth.LoginView):
    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


sign_in = SignIn.as_view()
sign_out = auth.LogoutView.as_view(next_page="sign-in")


def home(request: HttpRequest) -> HttpResponseBase:
    """To the desk or the phone, by who it is; a coach who runs starts at the desk."""
    if not request.user.is_authenticated:
        return redirect("sign-in")
    if Coach.objects.filter(user=request.user).exists():
        return redirect("roster")
    if Athlete.objects.filter(user=request.user).exists():
        return redirect("today")
    return redirect("sign-in")


def health(request: HttpRequest) -> JsonResponse:
    """For a proxy: 200 when the database answers."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"ok": True})
