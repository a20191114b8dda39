"""A passkey in a real Chromium, with the virtual authenticator of its own protocol, on localhost."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django_otp_webauthn.models import WebAuthnCredential
from playwright.sync_api import Browser, Page, Route, expect

from tests.browser.conftest import Visit
from tests.factories import PASSWORD, CoachFactory, UserFactory

DESK_ITSELF = re.compile(r"//[^/?]+/desk/$")  # not the sign-in that leads to it
pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def local(browser: Browser, live_server: Any) -> Any:
    """The live site under the name localhost: a browser makes no passkey for a bare address."""
    visitor = Visit(browser, live_server.url.replace("127.0.0.1", "localhost"))
    yield visitor
    visitor.close()
    assert visitor.faults == []


class Authenticator:
    """Chromium's own, without a device; `touch` says whether somebody's finger is on it."""

    def __init__(self, page: Page) -> None:
        self.protocol = page.context.new_cdp_session(page)
        self.protocol.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasResidentKey": True,
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        made = self.protocol.send("WebAuthn.addVirtualAuthenticator", {"options": options})
        self.id = made["authenticatorId"]

    def touch(self, on: bool) -> None:
        self.protocol.send(
            "WebAuthn.setAutomaticPresenceSimulation", {"authenticatorId": self.id, "enabled": on}
        )

    def use(self, page: Page) -> None:
        """Press the page's button, and touch when the page asks the server what to sign.

        Not sooner, or the browser's own offer in the address field is taken; not later, or the device, already
        asked, has given up on the finger.
        """
        expect(page.get_by_role("button", name="Use a passkey")).to_be_visible()
        page.wait_for_load_state("networkidle")  # the offer has been made
        page.route("**/passkeys/use/begin/", self._touched)
        page.get_by_role("button", name="Use a passkey").click()
        page.wait_for_url(DESK_ITSELF)
        page.unroute("**/passkeys/use/begin/")

    def _touched(self, route: Route) -> None:
        self.touch(True)
        route.continue_()


def test_a_coach_adds_one_signs_in_with_it_and_shows_it_as_the_second_step(local: Visit) -> None:
    CoachFactory(user=UserFactory(name="Marta Quill", email="marta@example.org"), is_head=True)
    page = local.page()
    page.set_default_timeout(30_000)
    page.goto("/sign-in/")
    page.locator("[name=username]").fill("marta@example.org")
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(DESK_ITSELF)
    finger = Authenticator(page)
    page.goto("/account/passkeys/")
    page.get_by_role("button", name="Add a passkey on this device").click()
    expect(page.get_by_text("since")).to_be_visible(timeout=30_000)
    assert WebAuthnCredential.objects.get().user.email == "marta@example.org"

    # Without a password: the passkey alone opens the desk, as the second step too.
    finger.touch(False)
    page.goto("/desk/")
    page.get_by_role("button", name="Sign out").click()
    finger.use(page)
    expect(page.get_by_role("heading", name="Roster")).to_be_attached(timeout=30_000)

    # With the password: the desk asks for it.
    finger.touch(False)
    page.get_by_role("button", name="Sign out").click()
    page.locator("[name=username]").fill("marta@example.org")
    page.locator("[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="The second step")).to_be_visible(timeout=30_000)
    finger.use(page)
    expect(page.get_by_role("heading", name="Roster")).to_be_attached(timeout=30_000)
