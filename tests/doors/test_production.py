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


def test_a_real_server_takes_no_body_that_no_page_would_take(tmp_path: Path) -> None:
    """A stranger's gigabyte would be kept on the disk before any page is asked."""
    code = """
import socket, threading, waitress, waitress.server
from django.core.management import call_command
made = {}
def serve(app, **how):
    made["server"] = waitress.server.create_server(app, **how | {"port": 0})
waitress.serve = serve
settings.REDIS_URL = "redis://nobody.asks"
call_command("migrate", verbosity=0)
call_command("serve")
threading.Thread(target=made["server"].run, daemon=True).start()
def answer(ask, length):
    with socket.create_connection(("127.0.0.1", made["server"].effective_port), timeout=20) as line:
        line.sendall(f"{ask} HTTP/1.1\\r\\nHost: localhost\\r\\nContent-Length: {length}\\r\\n\\r\\n".encode())
        return line.recv(100).split(b"\\r\\n")[0].decode()
print(answer("POST /sign-in/", 100_000_001))
print(answer("GET /health/", 0))
"""
    said_by = said(code, tmp_path, PUBLIC_URL="http://localhost:8000").splitlines()
    assert said_by == ["HTTP/1.1 413 Request Entity Too Large", "HTTP/1.1 200 OK"]


def test_what_is_kept_on_a_laptop_is_shut_to_others_there(tmp_path: Path) -> None:
    place = tmp_path / "new" / "practice"
    code = "print(oct(settings.DATA_DIR.stat().st_mode & 0o777), oct((settings.DATA_DIR / 'secret_key').stat().st_mode & 0o777))"
    assert said(code, tmp_path, DATA_DIR=str(place), SECRET_KEY="") == "0o700 0o600"


def test_the_demo_lives_apart_from_a_practice(tmp_path: Path) -> None:
    """`make demo`, then a practice of one's own: it must not begin inside the demo's club."""
    code = "from coaching import settings as s; print(s.DATA_DIR.relative_to(s.BASE_DIR))"
    env = {k: v for k, v in os.environ.items() if k in ("PATH", "HOME", "LANG")}
    for demo, place in (("1", "var/demo"), ("0", "var")):
        done = subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**env, "SECRET_KEY": KEY, "DEMO": demo, "DATABASE_URL": "postgres://localhost/none"},
            capture_output=True,
            text=True,
        )
        assert done.stdout.strip() == place, done.stderr


@pytest.mark.parametrize(
    ("env", "words"),
    [
        ({"DEMO": "1", "PUBLIC_URL": "https://run.example.org"}, "not as run.example.org"),
        ({"DEMO": "1", "PUBLIC_URL": "http://localhost:8000", "HOSTS": "run.example.org"}, "not as run.example.org"),
        ({"DEMO": "0", "PUBLIC_URL": "http://localhost:8000"}, "holds the demo club"),
    ],
)  # fmt: skip
def test_the_demos_club_is_never_served_to_others(tmp_path: Path, env: dict[str, str], words: str) -> None:
    code = """
from django.core.management import call_command
from athletes.models import User
from coaching.demo.people import COACHES, PASSWORD
call_command("migrate", verbosity=0)
User.objects.create_user(COACHES[0][1], PASSWORD, "Marta")
try:
    call_command("serve")
except Exception as refused:
    print(type(refused).__name__, refused)
"""
    told = said(code, tmp_path, **env)
    assert told.startswith("CommandError")
    assert words in told


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
