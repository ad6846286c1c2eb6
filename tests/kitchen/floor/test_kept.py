"""Cards and sheets are written once while all on them is as it is, and never longer; nobody's secret is kept."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import caches
from django.db.models import QuerySet
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.batches.models import Batch
from kitchen.equipment.models import Canner
from kitchen.floor.models import EventKind, RunEvent
from kitchen.language import pieces
from kitchen.members.models import User
from kitchen.planning.models import Load, LoadPhase, LoadPortion
from kitchen.rota.models import Shift, Station
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site
from tests.factories.walks import signed_in, without_secrets

pytestmark = pytest.mark.django_db

_SECRET = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Under way, at pressure since a while; somebody watches."""
    run = make_bean_run(make_site())
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    monkeypatch.setattr(timezone, "now", lambda: run.at(40))
    Shift.objects.create(
        harvest_day=run.day,
        load=run.load,
        user=run.site.operator,
        station=Station.CANNER,
        starts_at=run.at(0),
        ends_at=run.at(70),
    )
    return run


def sheet_address(run: Run) -> str:
    return reverse("floor:run-sheet", args=[run.site.kitchen.slug, run.day.uuid, run.load.canner.uuid])


def parts(run: Run, reader: User) -> tuple[str, str]:
    """The card and the sheet, without the secret of the forms."""
    text = signed_in(reader).get(sheet_address(run)).content.decode()
    card, sheet = (text.partition(f"<{tag}")[2] for tag in ('article class="now', 'article class="load'))
    return without_secrets(card.partition("</article>")[0]), sheet.partition("</article>")[0]


def test_whatever_changes_shows_at_once(run: Run) -> None:
    portion = LoadPortion.objects.filter(load=run.load)
    batch, load = Batch.objects.filter(portions__in=portion), Load.objects.filter(pk=run.load.pk)
    member, operator = User.objects.filter(batches__in=batch), User.objects.filter(pk=run.site.operator.pk)
    changes: list[tuple[QuerySet[Any], dict[str, object], bool, bool]] = [
        # Rows, what becomes of them, and whether the card and the sheet show it.
        (load, {"process_minutes": 30}, True, True),
        (load, {"target_reading_psi": 12.5}, True, True),
        (load, {"lot_code": "TY-PLUM-1"}, False, True),
        (load, {"water_jars": 2}, False, True),
        (Canner.objects.filter(pk=run.load.canner_id), {"name": "The big pot"}, False, True),
        (portion, {"jars": 3}, True, True),
        (portion, {"headspace_in": 1.5}, False, True),
        (portion, {"acid": ["2 tablespoons of lemon juice"]}, False, True),
        (batch, {"food_name": "Plums"}, True, True),
        (batch, {"jar": "pint"}, True, True),
        (member, {"display_name": "Sorrel Quince"}, False, True),
        (operator, {"display_name": "Medlar Fenn"}, True, True),
        (LoadPhase.objects.filter(load=load.get(), kind="rest"), {"ends_at": run.at(118)}, False, True),
        (Shift.objects.filter(load=load.get()), {"ends_at": run.at(75)}, True, True),
        (Shift.objects.filter(load=load.get()), {"user": None}, True, True),
    ]
    for rows, changed, on_card, on_sheet in changes:
        before = parts(run, run.site.operator)
        assert before == parts(run, run.site.operator)
        assert rows.update(**changed)
        after = parts(run, run.site.operator)
        assert (after[0] != before[0], after[1] != before[1]) == (on_card, on_sheet), changed


def test_a_line_a_correction_and_the_clock_show_at_once(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    first = parts(run, run.site.operator)
    monkeypatch.setattr(timezone, "now", lambda: run.at(57))
    due = parts(run, run.site.operator)
    assert (due[0] != first[0], due[1] == first[1]) == (True, True)
    run.tap(EventKind.HEAT_OFF, 57)
    off = parts(run, run.site.operator)
    assert off[0] != due[0]
    assert off[1] != due[1]
    line = RunEvent.objects.get(load=run.load, kind=EventKind.LOADED)
    RunEvent.objects.create(
        load=run.load,
        kind=EventKind.LOADED,
        at=line.at + timedelta(minutes=1),
        recorded_at=run.at(58),
        recorded_by=run.site.lead,
        corrects=line,
        note="The clock was wrong",
    )
    corrected = parts(run, run.site.operator)
    assert corrected[0] != off[0]
    assert "before that" in corrected[1]


def test_each_reader_is_told_what_is_theirs(run: Run) -> None:
    """A member presses nothing; operator and lead each send the secret of their own session."""
    operator, member = (signed_in(user) for user in (run.site.operator, run.site.member))
    texts = [client.get(sheet_address(run)).content.decode() for client in (operator, member, operator)]
    assert 'class="presses"' in texts[0]
    assert 'class="presses"' not in texts[1]
    secrets = [set(_SECRET.findall(text.partition('id="live"')[2])) for text in texts]
    assert len(secrets[0]) == 1
    assert secrets[0] != secrets[2], "masked anew each time"
    assert not any(pieces._token_mark() in text for text in texts)


def test_a_press_from_a_kept_card_is_taken(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(run.site.operator)
    for _ in range(2):
        text = strict.get(sheet_address(run)).content.decode()
    (secret, *_) = _SECRET.findall(text.partition('id="live"')[2])
    monkeypatch.setattr(timezone, "now", lambda: run.at(57))
    seen = RunEvent.objects.filter(load=run.load).latest("pk").pk
    step = reverse("floor:step", args=[run.site.kitchen.slug, run.load.uuid])
    given = {"kind": "heat_off", "seen": seen}
    assert strict.post(step, given).status_code == 403
    assert strict.post(step, {**given, "csrfmiddlewaretoken": secret}).status_code == 302
    assert RunEvent.objects.filter(load=run.load, kind=EventKind.HEAT_OFF).exists()


def test_all_canners_on_one_screen_notice_loads_that_are_not_at_hand(run: Run) -> None:
    address = reverse("floor:canners", args=[run.site.kitchen.slug, run.day.uuid])

    def state() -> str:
        text = signed_in(run.site.operator).get(address, {"live": "1"}).content.decode()
        return text.partition('data-state="')[2].partition('"')[0]

    for kind, minutes in BEAN_TAPS[4:]:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT)
    page = signed_in(run.site.operator).get(address).content.decode()
    assert "All loads are out" in page
    seen = [state()]
    Load.objects.filter(pk=run.load.pk).update(on_hold=True, deviation="A jar broke")
    seen.append(state())
    RunEvent.objects.create(
        load=run.load,
        kind=EventKind.HAND_OVER,
        at=run.at(50),
        recorded_at=run.at(60),
        recorded_by=run.site.lead,
        taken_by=run.site.lead,
    )
    seen.append(state())
    assert len(set(seen)) == len(seen)


def test_what_is_kept_holds_no_secret(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    kept: list[str] = []
    cache = caches[pieces.CACHE]
    cache.clear()
    write = pieces._keep

    def keep(key: str, text: str) -> None:
        kept.append(text)
        write(key, text)

    monkeypatch.setattr(pieces, "_keep", keep)
    text = signed_in(run.site.operator).get(sheet_address(run)).content.decode()
    (secret,) = set(_SECRET.findall(text.partition('id="live"')[2]))
    cards = [one for one in kept if "<form" in one]
    assert cards
    assert not any(secret in one for one in kept)
    assert all(pieces._token_mark() in one for one in cards)


def test_the_form_on_a_sheet_on_hold_is_the_leads_own_and_taken(run: Run) -> None:
    """Of a load that is not at hand any more; an operator is not asked to decide."""
    for kind, minutes in BEAN_TAPS[4:]:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT, "A jar broke")
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(run.site.lead)
    for _ in range(2):
        sheets = strict.get(sheet_address(run)).content.decode().partition('id="sheets"')[2]
    assert "A jar broke" in sheets
    decide = reverse("floor:hold", args=[run.site.kitchen.slug, run.load.uuid])
    assert f'action="{decide}"' in sheets
    assert decide not in signed_in(run.site.operator).get(sheet_address(run)).content.decode()
    (secret, *_) = _SECRET.findall(sheets)
    given = {"outcome": "discarded", "reason": "The lid is cracked"}
    assert strict.post(decide, given).status_code == 403
    assert strict.post(decide, {**given, "csrfmiddlewaretoken": secret}).status_code == 302
    assert "Thrown out." in strict.get(sheet_address(run)).content.decode()
