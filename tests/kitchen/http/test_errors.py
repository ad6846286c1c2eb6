"""What a person reads when something is not found, not accepted, or broken: always what to do next."""

from __future__ import annotations

import pytest
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.test import Client, RequestFactory
from django.views.defaults import server_error

from tests.factories.sites import make_site


@pytest.mark.django_db
def test_what_is_not_found_leads_back() -> None:
    client = Client()
    client.force_login(make_site().member)
    answer = client.get("/kitchens/of-nobody/")
    assert answer.status_code == 404
    assert "Start from your own page" in answer.content.decode()


@pytest.mark.django_db
def test_a_form_from_elsewhere_is_not_accepted_and_says_so() -> None:
    answer = Client(enforce_csrf_checks=True).post("/sign-in/", {"username": "a@b.example", "password": "x"})
    assert answer.status_code == 403
    assert "Nothing was changed." in answer.content.decode()


@pytest.mark.parametrize(
    ("path", "kind"), [("/sign-in/", "text/html"), ("/api/v1/processes", "application/problem+json")]
)
def test_a_host_that_is_no_name_is_refused_in_the_readers_own_form(path: str, kind: str) -> None:
    answer = Client().get(path, headers={"host": "')e&Z:yS"})
    assert (answer.status_code, answer.headers["Content-Type"].partition(";")[0]) == (400, kind)
    if kind == "text/html":
        assert "by the address that your lead gave you" in answer.content.decode()
    else:
        assert (answer.json()["code"], answer.json()["instance"]) == ("bad-request", path)


def test_a_broken_program_says_what_is_safe() -> None:
    request: HttpRequest = RequestFactory().get("/")
    answer: HttpResponse = server_error(request)
    assert answer.status_code == 500
    assert "write on paper" in answer.content.decode()
    assert "style=" not in render_to_string("500.html")
