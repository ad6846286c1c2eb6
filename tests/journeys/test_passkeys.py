"""A passkey is added, used and removed, in a window with an authenticator of Chromium's own."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from django.test import override_settings
from playwright.sync_api import CDPSession, expect
from pytest_django.live_server_helper import LiveServer

from kitchen.entrance.models import Passkey
from kitchen.members.models import User
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Visit = Callable[[int | Way], Visitor]
DEVICE = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


@pytest.fixture
def member() -> User:
    member = make_site().member
    member.set_password(PASSWORD)
    member.save()
    return member


@pytest.fixture
def _at_home(live_server: LiveServer) -> Iterator[None]:
    with override_settings(KITCHEN_URL=live_server.url):
        yield


def plug_in(visitor: Visitor) -> tuple[CDPSession, str]:
    """A device that keeps passkeys and says that it has looked at its person's finger."""
    tools = visitor.page.context.new_cdp_session(visitor.page)
    tools.send("WebAuthn.enable")
    made = tools.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})
    return tools, str(made["authenticatorId"])


def quiet(visitor: Visitor, *expected: str) -> None:
    """Nothing was complained of but what the browser notes of refusals, and that it forgot what it was told to."""
    expected = (*expected, "Clear-Site-Data")
    visitor.complaints[:] = [one for one in visitor.complaints if not any(words in one for words in expected)]
    assert visitor.complaints == []


@every_way(without_scripts=False)
@pytest.mark.usefixtures("_at_home")
def test_a_passkey_is_added_used_and_removed(way: Way, visit: Visit, member: User) -> None:
    visitor = visit(way)
    page = visitor.page
    tools, device = plug_in(visitor)
    visitor.sign_in(member.email)
    page.goto("/about-me/")
    visitor.follow("Your passkeys")
    expect(page.get_by_role("heading", level=1)).to_have_text("Your passkeys")
    visitor.look("passkeys-none")
    visitor.type("What you call it, such as the device", "My telephone")
    visitor.type("Your password", "wrong")
    visitor.press("Add a passkey")
    expect(page.get_by_role("alert")).to_have_text("This is not your password. Type it again.")
    quiet(visitor, "422")
    visitor.look("passkeys-wrong-password")
    visitor.type("Your password", PASSWORD)
    visitor.press("Add a passkey")
    expect(page.get_by_text("My telephone lets you in from now on.")).to_be_visible()
    visitor.look("passkeys-one")
    visitor.type("What you call it, such as the device", "The same one")
    visitor.type("Your password", PASSWORD)
    visitor.press("Add a passkey")
    expect(page.get_by_role("alert")).to_contain_text("holds a passkey of yours already")

    visitor.press("Sign out")
    page.wait_for_url("**/sign-in/")
    quiet(visitor)
    page.goto("/password/")
    visitor.look("sign-in-with-a-passkey-too")
    visitor.press("Sign in with a passkey")
    expect(page.get_by_role("heading", level=1)).to_have_text("Change your password")
    assert Passkey.objects.get().sign_count > 0

    page.goto("/passkeys/")
    visitor.press("Remove My telephone")
    expect(page.get_by_text("My telephone opens nothing here any more.")).to_be_visible()
    visitor.press("Sign out")
    page.wait_for_url("**/sign-in/")
    visitor.press("Sign in with a passkey")
    expect(page.get_by_role("alert").first).to_contain_text("This passkey is not known here.")
    quiet(visitor, "403")
    visitor.look("passkey-refused")
    # A device that has none: the browser says no, and the page says what it means.
    tools.send("WebAuthn.clearCredentials", {"authenticatorId": device})
    tools.send("WebAuthn.setUserVerified", {"authenticatorId": device, "isUserVerified": False})
    visitor.press("Sign in with a passkey")
    expect(page.locator("[data-told]")).to_have_text(
        "Nothing came of it: it was cancelled, or took too long."
    )
    quiet(visitor)


@override_settings(KITCHEN_URL="https://kitchen.example")
def test_at_another_address_the_button_is_hidden_and_the_page_says_why(
    visit: Visit, member: User, live_server: LiveServer
) -> None:
    visitor = visit(390)
    visitor.sign_in(member.email)
    visitor.page.goto("/passkeys/")
    expect(visitor.page.get_by_role("button", name="Add a passkey")).to_have_count(0)
    expect(
        visitor.page.get_by_text("only at the kitchen's own address, https://kitchen.example")
    ).to_be_visible()
    visitor.look("passkeys-elsewhere")


def test_without_https_the_page_says_so(visit: Visit) -> None:
    visitor = visit(390)
    # As a browser sees a kitchen that is reached over plain HTTP.
    visitor.page.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false });")
    visitor.page.goto("/sign-in/")
    expect(visitor.page.get_by_role("button", name="Sign in with a passkey")).to_have_count(0)
    expect(visitor.page.get_by_text("Passkeys need a browser that knows them")).to_be_visible()
    quiet(visitor)


def test_without_scripts_the_pages_say_what_works(
    visit: Visit, member: User, live_server: LiveServer
) -> None:
    visitor = visit(Way(scripts=False))
    visitor.sign_in(member.email)
    visitor.page.goto("/passkeys/")
    expect(visitor.page.get_by_role("button", name="Add a passkey")).to_have_count(0)
    expect(visitor.page.get_by_text("Passkeys need scripts")).to_be_visible()
    visitor.look("passkeys-without-scripts")
