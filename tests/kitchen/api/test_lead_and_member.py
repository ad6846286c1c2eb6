"""What a program can do beside the newcomer's way: hours, equipment, wishes, waiting, second processes, records."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.equipment.actions import take_out_of_service
from kitchen.records.models import RecordSignature
from tests.factories.canner_runs import make_beans_out
from tests.factories.furnished import Furnished, bearer, furnish
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def at() -> Furnished:
    return furnish()


def program(at: Furnished, who: str) -> Client:
    return Client(headers=bearer(getattr(at.site, who), at.site))


def send(client: Client, method: str, at: Furnished, where: str, given: Any = None, **headers: str) -> Any:
    return client.generic(
        method,
        f"/api/v1/kitchens/{at.site.kitchen.uuid}/{where}",
        data=Client()._encode_json(given, "application/json"),  # type: ignore[attr-defined]
        content_type="application/json",
        headers={name.replace("_", "-"): value for name, value in headers.items()},
    )


def test_two_leads_do_not_undo_each_other_s_hours(at: Furnished) -> None:
    lead, given = program(at, "lead"), {"hours": [{"opens": "08:00", "closes": "12:00"}]}
    read = send(lead, "GET", at, "opening-hours/2")
    assert send(lead, "PUT", at, "opening-hours/2", given).status_code == 428
    changed = send(lead, "PUT", at, "opening-hours/2", given, If_Match=read["ETag"])
    assert changed.json() == {"weekday": 2, "hours": [{"opens": "08:00:00", "closes": "12:00:00"}]}
    assert send(lead, "PUT", at, "opening-hours/2", given, If_Match=read["ETag"]).status_code == 412
    week = send(lead, "GET", at, "opening-hours").json()
    assert [day["weekday"] for day in week] == list(range(7))
    assert week[2] == changed.json()
    assert send(lead, "GET", at, "opening-hours/7").status_code == 404
    late = {"hours": [{"opens": "12:00", "closes": "08:00"}]}
    assert send(lead, "PUT", at, "opening-hours/2", late, If_Match="*").json()["code"] == "bad-setting"


def test_a_canner_is_added_once_with_what_is_known_of_it(at: Furnished) -> None:
    lead = program(at, "lead")
    given = {
        "code": "W9",
        "name": "Canner 9",
        "kind": "weighted",
        "burner": at.named["burner"],
        "layers": 2,
        "inside_diameter_in": 12.5,
        "inside_depth_in": 15,
    }
    before = AuditEvent.objects.count()
    answers = [send(lead, "POST", at, "canners", given, Idempotency_Key="one") for _ in range(2)]
    assert [one.status_code for one in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["layers"] == 2
    assert AuditEvent.objects.count() == before + 1
    tiny = {**given, "code": "W8", "inside_depth_in": 1}
    assert send(lead, "POST", at, "canners", tiny, Idempotency_Key="two").status_code == 422


def test_wishes_are_said_and_read_back(at: Furnished) -> None:
    member, lead = program(at, "member"), program(at, "lead")
    given = {
        "likes": ["prep"],
        "cannot": ["fill"],
        "most_minutes": 240,
        "comes_with": at.named["member"],
        "learning": False,
    }
    read = send(member, "GET", at, "wishes")
    said = send(member, "PUT", at, "wishes", given, If_Match=read["ETag"])
    assert said.json() == given
    assert send(member, "PUT", at, "wishes", given, If_Match=read["ETag"]).status_code == 412
    assert send(lead, "GET", at, f"wishes?member={at.site.member.uuid}").json() == given
    assert send(member, "GET", at, f"wishes?member={at.site.other.uuid}").status_code == 403
    theirs = {**given, "member": str(at.site.other.uuid), "comes_with": None}
    assert send(member, "PUT", at, "wishes", theirs, If_Match="*").status_code == 403
    assert send(lead, "PUT", at, "wishes", theirs, If_Match="*").status_code == 200


def test_waiting_begins_on_a_full_day_and_ends(at: Furnished) -> None:
    member, site = program(at, "member"), at.site
    for canner in (site.weighted, site.dial):
        take_out_of_service(canner=canner, reason="The gasket leaks.", actor=site.lead)
    day = (timezone.now().astimezone(site.kitchen.zone) + timedelta(days=9)).date()
    given = {"food": "apple_juice", "pack": "hot", "jar": "quart", "jars": 7, "day": str(day)}
    free = send(member, "POST", at, "waiting", given, Idempotency_Key="one")
    assert (free.status_code, free.json()["code"]) == (422, "bad-time")
    site.kitchen.opening_hours.filter(weekday=day.weekday()).delete()
    made = send(member, "POST", at, "waiting", given, Idempotency_Key="two")
    assert made.status_code == 201, made.content
    one = f"waiting/{made.json()['id']}"
    assert made.json() in send(member, "GET", at, "waiting").json()["results"]
    read = send(member, "GET", at, one)
    assert send(member, "DELETE", at, one, If_Match=read["ETag"]).status_code == 204
    assert send(member, "GET", at, one).json()["ended_at"]


def test_a_booking_in_doubt_says_so(at: Furnished) -> None:
    member, where = program(at, "member"), f"slots/{at.slot.uuid}"
    before = send(member, "GET", at, where)
    assert before.json()["doubt"] == ""
    take_out_of_service(canner=at.slot.canner_time.canner, reason="The gasket leaks.", actor=at.site.lead)
    after = send(member, "GET", at, where)
    assert "The gasket leaks." in after.json()["doubt"]
    assert after["ETag"] != before["ETag"]


def test_a_record_is_signed_then_reviewed() -> None:
    at = furnish(make_site())
    load = f"loads/{at.run.load.uuid}"
    operator, lead = program(at, "operator"), program(at, "lead")
    read = send(operator, "GET", at, f"{load}/signatures").json()
    assert [one["id"] for one in read["to_sign"]] == [str(at.site.operator.uuid)]
    early = send(
        lead, "POST", at, f"{load}/review", {"digest": read["digest"], "outcome": "reviewed"}, **key(1)
    )
    assert early.json()["code"] == "out-of-order"
    signed = send(operator, "POST", at, f"{load}/signatures", {"digest": read["digest"]}, **key(2))
    assert (signed.status_code, signed.json()["kind"]) == (201, "signed")
    stale = send(lead, "POST", at, f"{load}/review", {"digest": "0" * 64, "outcome": "reviewed"}, **key(3))
    assert (stale.status_code, stale.json()["code"]) == (409, "record-changed")
    back = {"digest": read["digest"], "outcome": "sent_back", "note": "The reading at 12 is missing."}
    assert send(lead, "POST", at, f"{load}/review", back, **key(4)).json()["kind"] == "sent_back"
    again = send(operator, "POST", at, f"{load}/signatures", {"digest": read["digest"]}, **key(5))
    assert again.status_code == 201, again.content
    fine = {"digest": read["digest"], "outcome": "reviewed"}
    assert send(lead, "POST", at, f"{load}/review", fine, **key(6)).status_code == 201
    assert [one.kind for one in RecordSignature.objects.order_by("pk")] == [
        *("signed", "sent_back", "signed", "reviewed"),
    ]


def test_the_ways_for_jars_that_did_not_seal_are_told(at: Furnished) -> None:
    make_beans_out(make_site())
    told = send(program(at, "member"), "GET", at, f"portions/{at.run.portion.uuid}/again").json()
    assert set(told) == {"deadline", "first", "why_not", "caution"}
    assert send(program(at, "member"), "GET", at, f"portions/{at.run.portion.uuid}/again").status_code == 200
    booked = {"way": "day|none"}
    answer = send(
        program(at, "operator"), "POST", at, f"portions/{at.run.portion.uuid}/again", booked, **key(1)
    )
    assert answer.json()["code"] == "bad-time"  # Its deadline has passed.


def key(number: int) -> dict[str, str]:
    return {"Idempotency_Key": str(number)}
