"""The second step of coaches: one-time codes against the RFC's own algorithm, codes from the paper, what it guards."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import struct
import time

import pytest
from django.test import Client, override_settings
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice
from django_otp_webauthn.models import WebAuthnCredential

from athletes.models import Athlete, Coach
from tests.doors.conftest import signed_in

pytestmark = pytest.mark.django_db


def totp(key: str, at: float) -> str:
    """RFC 6238 over RFC 4226 written out here, so that the library is not its own witness."""
    counter = struct.pack(">Q", int(at) // 30)
    digest = hmac.new(base64.b32decode(key), counter, hashlib.sha1).digest()
    offset = digest[-1] & 15
    number = struct.unpack(">I", digest[offset : offset + 4])[0] & 0x7FFFFFFF
    return f"{number % 1_000_000:06}"


def test_the_witness_itself() -> None:
    # RFC 6238, appendix B: at 59 s the 8 digits are 94287082; six digits are the last six.
    assert totp(base64.b32encode(b"12345678901234567890").decode(), 59) == "287082"


def key_on(page: str) -> str:
    found = re.search(r'<code class="secret">([A-Z2-7 ]+)</code>', page)
    assert found
    return found[1].replace(" ", "")


def set_up(client: Client) -> tuple[str, list[str]]:
    """Turn codes on as a coach does; the key and the codes on the paper."""
    assert client.post("/account/codes/", {"do": "begin"}).status_code == 302
    key = key_on(client.get("/account/codes/").content.decode())
    answer = client.post("/account/codes/", {"do": "confirm", "code": totp(key, time.time())})
    assert answer.status_code == 200
    return key, re.findall(r"<li>([a-z2-7]+)</li>", answer.content.decode())


def by_password(coach: Coach) -> Client:
    """A new device that has got past the password."""
    return signed_in(coach.user)


def a_minute_later() -> None:
    """A code counts once; the next one is another."""
    TOTPDevice.objects.update(last_t=0, throttling_failure_count=0, throttling_failure_timestamp=None)


def test_it_works(coach: Coach) -> None:
    key, paper = set_up(by_password(coach))
    assert len(set(paper)) == 8
    a_minute_later()
    new = by_password(coach)
    answer = new.get("/desk/")
    assert answer["Location"] == "/sign-in/second/?next=/desk/"
    answer = new.post("/sign-in/second/", {"code": totp(key, time.time()), "next": "/desk/templates/"})
    assert answer["Location"] == "/desk/templates/"
    assert new.get("/desk/").status_code == 200


def test_the_code_to_scan_says_the_same_as_the_letters(coach: Coach) -> None:
    client = by_password(coach)
    client.post("/account/codes/", {"do": "begin"})
    page = client.get("/account/codes/").content.decode()
    url = TOTPDevice.objects.get().config_url
    assert f"secret={key_on(page)}" in url
    assert url.startswith("otpauth://totp/")
    assert "<svg" in page
    assert "style=" not in page


def test_without_it_nothing_of_the_desk_or_the_account_opens(coach: Coach, bea: Athlete) -> None:
    set_up(by_password(coach))
    new = by_password(coach)
    for path in ("/desk/", f"/desk/athletes/{bea.pk}/", "/account/", "/account/password/", "/account/codes/"):
        assert new.get(path)["Location"].startswith("/sign-in/second/"), path
    for path in ("/account/codes/remove/", "/account/codes/paper/", "/account/devices/end/"):
        assert new.post(path)["Location"].startswith("/sign-in/second/"), path
    assert TOTPDevice.objects.filter(confirmed=True).count() == 1
    htmx = new.get("/desk/", HTTP_HX_REQUEST="true")
    assert (htmx.status_code, htmx["HX-Redirect"]) == (204, "/sign-in/second/")


def test_a_code_from_the_paper_counts_once(coach: Coach) -> None:
    _, paper = set_up(by_password(coach))
    assert by_password(coach).post("/sign-in/second/", {"code": paper[0].upper()}).status_code == 302
    assert by_password(coach).post("/sign-in/second/", {"code": paper[0]}).status_code == 422
    assert StaticToken.objects.count() == 7


def test_a_new_paper_ends_the_old_one(coach: Coach) -> None:
    client = by_password(coach)
    _, paper = set_up(client)
    client.post("/account/codes/paper/")
    assert by_password(coach).post("/sign-in/second/", {"code": paper[0]}).status_code == 422


def test_a_wrong_code(coach: Coach) -> None:
    key, _ = set_up(by_password(coach))
    a_minute_later()
    right = totp(key, time.time())
    wrong = f"{(int(right) + 1) % 1_000_000:06}"
    new = by_password(coach)
    for typed in (wrong, "", "x" * 21, "１２３４５６"):
        assert new.post("/sign-in/second/", {"code": typed}).status_code == 422
    assert new.get("/desk/").status_code == 302


def test_after_eight_wrong_ones_the_right_one_waits_too(coach: Coach) -> None:
    key, _ = set_up(by_password(coach))
    new = by_password(coach)
    for _ in range(8):
        new.post("/sign-in/second/", {"code": "no-such-code"})
    a_minute_later()
    answer = new.post("/sign-in/second/", {"code": totp(key, time.time())})
    assert answer.status_code == 422
    assert "Too many tries" in answer.content.decode()


def test_a_wrong_first_code_leaves_it_off(coach: Coach) -> None:
    client = by_password(coach)
    client.post("/account/codes/", {"do": "begin"})
    answer = client.post("/account/codes/", {"do": "confirm", "code": "000000"})
    assert answer.status_code == 422
    assert not TOTPDevice.objects.filter(confirmed=True).exists()
    assert by_password(coach).get("/desk/").status_code == 200


def test_turned_off(coach: Coach) -> None:
    client = by_password(coach)
    set_up(client)
    client.post("/account/codes/remove/")
    assert by_password(coach).get("/desk/").status_code == 200


def test_looking_at_the_page_makes_no_key(coach: Coach) -> None:
    by_password(coach).get("/account/codes/")
    assert not TOTPDevice.objects.exists()


@override_settings(SECOND_FACTOR_REQUIRED=True)
def test_where_every_coach_needs_one_the_desk_waits_for_it(coach: Coach) -> None:
    client = by_password(coach)
    assert client.get("/desk/")["Location"].startswith("/account/")
    assert client.get("/account/").status_code == 200
    set_up(client)
    assert client.get("/desk/").status_code == 200


@pytest.mark.parametrize(
    "body", [b"", b"{", b"[]", b"\xff\xfe", b'{"id": 3}', b'"x"', b"null", b"1" * 5000, b"[" * 99_999]
)
@pytest.mark.parametrize(
    "path",
    ["/passkeys/use/complete/", "/passkeys/use/begin/", "/passkeys/add/complete/", "/passkeys/add/begin/"],
)
def test_nonsense_at_the_passkey_ceremony_is_refused_in_words(coach: Coach, path: str, body: bytes) -> None:
    client = by_password(coach)
    client.post("/passkeys/use/begin/", b"{}", content_type="application/json")
    client.post("/passkeys/add/begin/", b"{}", content_type="application/json")
    answer = client.post(path, body, content_type="application/json")
    if not (path.endswith("begin/") and body in (b"", b'{"id": 3}')):
        assert 400 <= answer.status_code < 500
        assert answer.json()["detail"]
    assert not WebAuthnCredential.objects.exists()


def test_nobody_adds_a_passkey_to_a_strangers_account_or_without_signing_in() -> None:
    assert Client().post("/passkeys/add/begin/", b"{}", content_type="application/json").status_code == 403
    assert Client(enforce_csrf_checks=True).post("/passkeys/use/begin/").status_code == 403


def test_removing_another_ones_passkey_is_not_there(coach: Coach, head: Coach) -> None:
    row = WebAuthnCredential.objects.create(
        user=head.user, credential_id=b"x", public_key=b"x", aaguid="0" * 36, sign_count=0
    )
    assert by_password(coach).post(f"/account/passkeys/{row.pk}/remove/").status_code == 404
    assert WebAuthnCredential.objects.exists()
