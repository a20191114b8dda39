"""Production settings: Django's own deployment check, a sub-path, proxies, headers. Each in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

ROOT = Path(__file__).parents[2]
KEY = "k3y-" + "".join(chr(97 + n * 7 % 26) + str(n) for n in range(40))


def run(code: list[str], tmp_path: Path, **env: str) -> subprocess.CompletedProcess[str]:
    clean = {k: v for k, v in os.environ.items() if k in ("PATH", "HOME", "LANG")}
    values = {"DATA_DIR": str(tmp_path), "SECRET_KEY": KEY, "PUBLIC_URL": "https://run.example.org", **env}
    return subprocess.run(
        [sys.executable, *code],
        cwd=ROOT,
        env={**clean, **values},
        capture_output=True,
        text=True,
        timeout=120,
    )


def said(code: str, tmp_path: Path, **env: str) -> str:
    start = (
        "import django; django.setup(); from django.conf import settings; from django.urls import reverse\n"
    )
    done = run(["-c", start + code], tmp_path, DJANGO_SETTINGS_MODULE="coaching.settings", **env)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_the_deployment_check_is_clean(tmp_path: Path) -> None:
    done = run(["manage.py", "check", "--deploy", "--fail-level", "WARNING"], tmp_path)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout + done.stderr


def test_https_brings_secure_cookies_and_strict_transport(tmp_path: Path) -> None:
    code = "s = settings; print(s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SECURE_HSTS_SECONDS, s.SECURE_SSL_REDIRECT)"
    assert said(code, tmp_path) == "True True 31536000 True"
    assert said(code, tmp_path, PUBLIC_URL="http://localhost:8000") == "False False 0 False"


def test_a_sub_path_is_in_every_address(tmp_path: Path) -> None:
    code = """
from django.templatetags.static import static
from coaching.addresses import absolute
import threading
print(reverse("roster"), settings.STATIC_URL, settings.SESSION_COOKIE_PATH, settings.CSRF_TRUSTED_ORIGINS[0])
threading.Thread(target=lambda: print(absolute("feed", token="x"))).start()
"""
    assert said(code, tmp_path, PUBLIC_URL="https://club.example.org/running/").split() == [
        "/running/desk/",
        "/running/static/",
        "/running/",
        "https://club.example.org",
        "https://club.example.org/running/feed/x.ics",
    ]


def test_a_real_server_on_a_sub_path_behind_one_proxy(tmp_path: Path) -> None:
    """Waitress itself: with the prefix left on or taken off, and the address the proxy wrote, not the one before it."""
    code = """
import socket, threading, urllib.request
from waitress.server import create_server
from coaching.management.commands.serve import behind_proxies
def app(environ, start):
    start("200 OK", [])
    return [" ".join(environ[k] for k in ("SCRIPT_NAME", "PATH_INFO", "REMOTE_ADDR", "wsgi.url_scheme")).encode()]
server = create_server(app, host="127.0.0.1", port=0, **behind_proxies())
threading.Thread(target=server.run, daemon=True).start()
headers = {"X-Forwarded-For": "198.51.100.1, 203.0.113.9", "X-Forwarded-Proto": "https"}
for path in ("/running/desk/", "/desk/"):
    url = f"http://127.0.0.1:{server.effective_port}{path}"
    print(urllib.request.urlopen(urllib.request.Request(url, headers=headers)).read().decode())
"""
    sub = "https://club.example.org/running"
    one = said(code, tmp_path, PUBLIC_URL=sub, TRUSTED_PROXIES="1").splitlines()
    assert one == ["/running /desk/ 203.0.113.9 https"] * 2
    none = said(code, tmp_path, PUBLIC_URL=sub).splitlines()
    assert none == ["/running /desk/ 127.0.0.1 https"] * 2


def test_a_secret_from_a_file_is_read_without_its_line_end(tmp_path: Path) -> None:
    file = tmp_path / "mail"
    file.write_text("a secret\n")
    code = "print(repr(settings.EMAIL_HOST_PASSWORD), settings.EMAIL_BACKEND.split('.')[-2])"
    found = said(code, tmp_path, EMAIL_HOST_PASSWORD_FILE=str(file), EMAIL_HOST="mail.example.org")
    assert found == "'a secret' smtp"


@pytest.mark.django_db
def test_the_headers_of_a_page(client: Client) -> None:
    answer = client.get("/sign-in/")
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["X-Frame-Options"] == "DENY"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert "unsafe" not in answer["Content-Security-Policy"]
    for name in ("camera", "geolocation", "microphone"):
        assert f"{name}=()" in answer["Permissions-Policy"]
    cookie = client.get("/sign-in/").client.cookies["csrftoken"]
    assert cookie["samesite"] == "Lax"
