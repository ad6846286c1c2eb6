"""The lead's pages about people, and how a new person comes in: from the address in a message to a first password."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from django.core import mail
from django.test import Client, override_settings
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.members.actions import add_member
from kitchen.members.models import Membership, Role, User
from kitchen.members.queries import membership_of, trained_on
from kitchen.members.signing_in import invite
from tests.factories.sites import Site, make_site
from tests.factories.walks import rows, signed_in

pytestmark = pytest.mark.django_db

LONG = "three jars of plums"
NEW = {"name": "Ottoline Marsh", "email": "Ottoline@Yard.example", "role": "operator"}


@pytest.fixture
def site() -> Site:
    return make_site()


def people(site: Site) -> str:
    return reverse("members:people", args=[site.kitchen.slug])


def one(name: str, membership: Membership) -> str:
    return reverse(f"members:{name}", args=[membership.kitchen.slug, membership.uuid])


def taken_in(site: Site) -> Membership:
    signed_in(site.lead).post(people(site), NEW)
    return Membership.objects.get(user__email="ottoline@yard.example", kitchen=site.kitchen)


def address_in_mail() -> str:
    found = re.search(r"https?://[^/\s]+(/\S+)", str(mail.outbox[-1].body))
    assert found is not None
    return found[1]


def test_a_lead_takes_somebody_in_who_then_sets_a_password_and_is_in(site: Site) -> None:
    membership = taken_in(site)
    assert membership.role == Role.OPERATOR
    assert mail.outbox[-1].to == ["ottoline@yard.example"]
    join, browser = address_in_mail(), Client()
    assert "Welcome, Ottoline" in browser.get(join, follow=True).content.decode()
    assert not User.objects.get(pk=membership.user.pk).has_usable_password()  # Looking changes nothing.
    entered = browser.post(join, {"new_password1": LONG, "new_password2": LONG}, follow=True)
    assert "Hello Ottoline" in entered.content.decode()
    assert Client().login(username="ottoline@yard.example", password=LONG)
    again = Client().post(join, {"new_password1": LONG[::-1], "new_password2": LONG[::-1]})
    assert again.status_code == 422
    assert "no longer holds" in again.content.decode()
    assert Client().login(username="ottoline@yard.example", password=LONG)


def test_the_word_of_an_invitation_stands_in_no_address_once_it_is_opened(site: Site) -> None:
    membership = taken_in(site)
    join, browser = address_in_mail(), Client()
    word = join.rstrip("/").rpartition("/")[2]
    opened = browser.get(join)
    shown = opened["Location"]
    assert opened.status_code == 302
    assert word not in shown
    assert word not in browser.get(shown).content.decode()
    assert Client().get(shown).status_code == 422  # It opens nothing in another browser.
    other = Membership.objects.get(user=site.other, kitchen=site.kitchen)
    assert browser.get(shown.replace(str(membership.user.uuid), str(other.user.uuid))).status_code == 422
    assert browser.post(shown, {"new_password1": LONG, "new_password2": LONG}).status_code == 302
    assert browser.get(reverse("home:front"), follow=True).context["user"] == membership.user
    assert browser.get(shown).status_code == 422


@pytest.mark.parametrize("typed", ["short", "password1234", ""])
def test_a_weak_first_password_is_refused_and_the_invitation_still_holds(site: Site, typed: str) -> None:
    taken_in(site)
    join = address_in_mail()
    assert Client().post(join, {"new_password1": typed, "new_password2": typed}).status_code == 422
    assert Client().post(join, {"new_password1": LONG, "new_password2": LONG}).status_code == 302


def test_the_address_is_shown_to_the_lead_once(site: Site) -> None:
    client = signed_in(site.lead)
    page = client.post(people(site), NEW)["Location"]
    shown = client.get(page).content.decode()
    assert address_in_mail() in shown
    assert "/join/" not in client.get(page).content.decode()


def test_a_lead_never_sees_the_invitation_of_somebody_who_belongs_elsewhere_too(site: Site) -> None:
    elsewhere = make_site()
    add_member(
        kitchen=elsewhere.kitchen,
        email=NEW["email"],
        display_name="Ottoline Marsh",
        role=Role.LEAD,
        actor=elsewhere.lead,
    )
    client = signed_in(site.lead)
    page = client.post(people(site), NEW)["Location"]
    assert "/join/" not in client.get(page).content.decode()
    assert "/join/" in str(mail.outbox[-1].body)


def test_another_persons_invitation_opens_nothing(site: Site) -> None:
    membership = taken_in(site)
    token = invite(membership=membership, actor=site.lead)
    other = add_member(
        kitchen=site.kitchen, email="else@yard.example", display_name="E", role=Role.MEMBER, actor=site.lead
    )
    for user in (other.user, site.lead):
        join = reverse("members:join", args=[user.uuid, token])
        assert Client().post(join, {"new_password1": LONG, "new_password2": LONG}).status_code == 422


@override_settings(EMAIL_BACKEND="tests.factories.mails.Unreachable")
def test_an_invitation_that_cannot_be_sent_is_told_and_nothing_is_lost(site: Site) -> None:
    client = signed_in(site.lead)
    shown = client.post(people(site), NEW, follow=True).content.decode()
    assert "could not be sent" in shown
    assert "/join/" in shown
    assert Membership.objects.filter(user__email="ottoline@yard.example").exists()


def test_where_no_mail_server_is_named_the_lead_passes_the_address_on(site: Site, tmp_path: Path) -> None:
    backend = "django.core.mail.backends.filebased.EmailBackend"
    with override_settings(EMAIL_BACKEND=backend, EMAIL_FILE_PATH=str(tmp_path)):
        shown = signed_in(site.lead).post(people(site), NEW, follow=True).content.decode()
    assert "No mail server is named yet" in shown
    assert "/join/" in shown


def test_role_age_and_trainings_are_changed_on_the_persons_page(site: Site) -> None:
    membership, client = site.member.memberships.get(), signed_in(site.lead)
    client.post(one("change-person", membership), {"role": "operator"})
    given = {"trained_on": "2026-05-01", "trained_by": "Extension office", "expires_on": ""}
    client.post(one("train", membership), given | {"kind": "canner"})
    membership.refresh_from_db()
    assert membership.role == Role.OPERATOR
    assert site.member.pk in trained_on(site.kitchen, date(2026, 6, 1))
    shown = client.get(one("person", membership)).content.decode()
    assert "Canner, 1 May 2026, by Extension office" in shown
    refused = client.post(one("change-person", membership), {"role": "operator", "under_16": "on"})
    assert refused.status_code == 422
    assert "was trained to run a canner" in refused.content.decode()
    food = signed_in(site.lead).post(one("train", site.other.memberships.get()), given | {"kind": "food"})
    assert food.status_code == 302
    assert site.other.pk not in trained_on(site.kitchen, date(2026, 6, 1))


def test_a_refused_role_leaves_the_age_as_it_was(site: Site) -> None:
    membership = site.lead.memberships.get()
    membership.trainings.all().delete()
    given = {"role": "member", "under_16": "on"}
    refused = signed_in(site.lead).post(one("change-person", membership), given)
    assert (refused.status_code, "is the only lead" in refused.content.decode()) == (422, True)
    membership.refresh_from_db()
    assert (membership.role, membership.under_16) == (Role.LEAD, False)


def test_under_16_is_noted_and_audited_and_keeps_from_canner_training(site: Site) -> None:
    membership, client = site.other.memberships.get(), signed_in(site.lead)
    client.post(one("change-person", membership), {"role": "member", "under_16": "on"})
    membership.refresh_from_db()
    assert membership.under_16
    assert AuditEvent.objects.filter(action="change_age").count() == 1
    given = {"trained_on": "2026-05-01", "trained_by": "Extension office", "kind": "canner"}
    refused = client.post(one("train", membership), given)
    assert refused.status_code == 422
    assert "under 16" in refused.content.decode()


def test_a_membership_ends_and_the_last_lead_stays(site: Site) -> None:
    client = signed_in(site.lead)
    client.post(one("leave", site.other.memberships.get()))
    assert membership_of(site.other, site.kitchen) is None
    last = client.post(one("leave", site.lead.memberships.get()))
    assert last.status_code == 422
    assert "only lead" in last.content.decode()


def test_nobody_but_a_lead_of_this_kitchen_gets_there_and_nothing_changes(site: Site) -> None:
    membership, stranger = site.member.memberships.get(), make_site().lead
    before = rows()
    for user, status in ((site.member, 403), (site.operator, 403), (stranger, 404)):
        client = signed_in(user)
        assert client.get(people(site)).status_code == status
        assert client.post(people(site), NEW).status_code == status
        for name in ("change-person", "train", "invite", "leave"):
            assert client.post(one(name, membership), {"role": "lead"}).status_code == status
        assert client.get(one("person", membership)).status_code == status
    after = rows()
    for table in (before, after):  # Signing in writes when it was.
        for user_row in table["members.User"]:
            user_row.pop("last_login")
    assert after == before


def test_a_forgotten_password_is_set_anew_by_the_message_and_recorded(site: Site) -> None:
    site.member.set_password(LONG)
    site.member.save()
    browser = Client()
    sent = browser.post(reverse("members:forgotten"), {"email": site.member.email}, HTTP_HOST="localhost")
    unknown = browser.post(reverse("members:forgotten"), {"email": "nobody@yard.example"})
    assert sent["Location"] == unknown["Location"]
    assert len(mail.outbox) == 1
    form = browser.get(address_in_mail(), follow=True)
    address = form.redirect_chain[-1][0]
    newer = "four jars of pears"
    browser.post(address, {"new_password1": newer, "new_password2": newer})
    assert Client().login(username=site.member.email, password=newer)
    assert AuditEvent.objects.filter(action="set_password").exists()
    assert "used or is too old" in browser.get(address_in_mail(), follow=True).content.decode()


@override_settings(KITCHEN_URL="https://kitchen.example")
def test_the_link_leads_to_the_kitchen_whatever_host_the_request_names(site: Site) -> None:
    site.member.set_password(LONG)
    site.member.save()
    Client().post(reverse("members:forgotten"), {"email": site.member.email}, HTTP_HOST="127.0.0.1")
    assert "https://kitchen.example/password/new/" in str(mail.outbox[-1].body)
    assert "127.0.0.1" not in str(mail.outbox[-1].body)


def test_a_password_is_changed_by_who_knows_the_old_one(site: Site) -> None:
    site.member.set_password(LONG)
    site.member.save()
    client, elsewhere = signed_in(site.member), signed_in(site.member)
    page, newer = reverse("members:change-password"), "four jars of pears"
    wrong = {"old_password": newer, "new_password1": newer, "new_password2": newer}
    assert "wrong" in client.post(page, wrong).content.decode()
    client.post(page, wrong | {"old_password": LONG})
    assert Client().login(username=site.member.email, password=newer)
    shown = client.get(page)
    assert shown.status_code == 200
    # Whoever keeps passwords is told whose this one is.
    assert f'value="{site.member.email}" autocomplete="username"' in shown.content.decode()
    assert elsewhere.get(page).status_code == 302  # Signed out everywhere else.
