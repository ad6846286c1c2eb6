"""Choosing language and units, signed in and before signing in, and what follows them."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from kitchen.audit.models import AuditEvent
from kitchen.language.person import Units, units_in_use, written_to
from tests.factories.sites import make_site
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

ABOUT_ME = "/about-me/"
SPANISH = {"language": "es", "units": "metric", "next": "/sign-in/"}


def test_a_browser_is_answered_in_its_language() -> None:
    page = Client().get("/sign-in/", headers={"accept-language": "es-MX,es;q=0.9,en;q=0.5"})
    assert '<html lang="es">' in page.content.decode()
    assert page.headers["Content-Language"] == "es"
    assert "Accept-Language" in page.headers["Vary"]
    assert '<html lang="en">' in Client().get("/sign-in/").content.decode()


def test_a_choice_before_signing_in_stays_with_the_browser() -> None:
    client = Client()
    answer = client.post(ABOUT_ME, SPANISH)
    assert answer.headers["Location"] == "/sign-in/"
    assert "Contraseña" in client.get("/sign-in/").content.decode()
    assert "Password" in Client().get("/sign-in/").content.decode()


def test_a_choice_of_a_person_goes_with_them_and_is_recorded() -> None:
    site = make_site()
    signed_in(site.member).post(ABOUT_ME, SPANISH)
    site.member.refresh_from_db()
    assert (site.member.language, site.member.units) == ("es", "metric")
    row = AuditEvent.objects.get(action="choose_writing")
    assert row.after == {"language": "es", "units": "metric"}
    elsewhere = signed_in(site.member).get(reverse("home:kitchen", args=[site.kitchen.slug]))
    assert "Mis partidas" in elsewhere.content.decode()


def test_what_a_worker_writes_is_written_for_its_reader() -> None:
    site = make_site()
    site.member.language, site.member.units = "es", "metric"
    with written_to(site.member):
        assert (translation.get_language(), units_in_use()) == ("es", Units.METRIC)
    assert (translation.get_language(), units_in_use()) == ("en", Units.US)
    with translation.override("es"), written_to(site.other):  # Never chose: English, whoever is at work here.
        assert (translation.get_language(), units_in_use()) == ("en", Units.US)


@pytest.mark.parametrize("bad", [{"language": "xx"}, {"units": "cubits"}, {"language": ""}])
def test_what_there_is_not_is_refused(bad: dict[str, str]) -> None:
    assert Client().post(ABOUT_ME, SPANISH | bad).status_code == 422


def test_nobody_is_led_away() -> None:
    for away in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
        assert Client().post(ABOUT_ME, SPANISH | {"next": away}).headers["Location"] == "/"


def test_the_foot_of_every_page_leads_there_in_both_languages() -> None:
    page = Client().get("/sign-in/").content.decode()
    assert f'{ABOUT_ME}?next=/sign-in/"' in page
    assert '<span lang="es">Idioma y unidades</span>' in page
