"""Which jars get labels, what the labels say, and where jars go from the shelf."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pypdfium2
import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import translation

from kitchen.audit.models import AuditEvent
from kitchen.equipment.models import CannerKind
from kitchen.errors import (
    AlreadyDecided,
    BadTime,
    JarsOnHold,
    KitchenError,
    NotAllowed,
    NotReadyForLabel,
    WrongCount,
    WrongReprocess,
)
from kitchen.floor.models import EventKind, RunEvent
from kitchen.labels.actions import move_jars, note_reprocess
from kitchen.labels.drawing import Copies, sheets_pdf
from kitchen.labels.models import MoveKind, Reprocess, ShelfMove
from kitchen.labels.queries import Lot, lots_named, lots_of_portion
from kitchen.labels.rules import best_by, check_fit_for_shelf, labelled_by, why_no_label
from kitchen.labels.shelf import lots_shelved, shelved_in
from kitchen.labels.stock import SHEETS
from kitchen.labels.words import ACID, LOW_ACID, label_of
from kitchen.members.actions import change_policy
from kitchen.members.models import Kitchen, User
from kitchen.planning.models import Load, LoadPortion
from kitchen.seals.actions import decide_hold, decide_offer
from kitchen.seals.models import HoldOutcome, ReprocessOffer, SealCheck
from scheduler.caution import SHORT_CAUTION
from tests.factories.canner_runs import BEANS_OUT, Run, make_applesauce_run, make_bean_run, make_beans_out
from tests.factories.shelf import add_lots, count_seals, make_shelf
from tests.factories.sites import declare, make_site
from tests.factories.widened import widened

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_shelf()


def lot_of(run: Run) -> Lot:
    (lot,) = lots_of_portion(run.portion)
    return lot


def hold(run: Run) -> None:
    Load.objects.filter(pk=run.load.pk).update(on_hold=True, deviation="Vented 8 of 10 minutes (rule S4).")


def refused(run: Run) -> KitchenError:
    with pytest.raises((JarsOnHold, NotReadyForLabel)) as refusal:
        label_of(lot_of(run), with_name=True)
    return refusal.value


def test_a_sealed_jar_says_all_that_belongs_on_it(run: Run) -> None:
    words = label_of(lot_of(run), with_name=True)
    assert words.food == run.portion.batch.food_name
    assert words.jar == "Raw pack, quart"
    assert words.lot == f"{run.load.lot_code}-A"
    assert words.dates == ("Processed 12 Sep 2026", "Best by 12 Sep 2027")
    assert words.process.replace("\xa0", " ") == "Pressure canned, weighted gauge at 15 lb, 25 min."
    assert words.member == str(run.site.member)
    assert words.storage.endswith(LOW_ACID)
    assert words.caution == SHORT_CAUTION
    assert words.address.endswith(f"/lot/{words.lot}")
    assert words.address.startswith("http")
    assert label_of(lot_of(run), with_name=False).member == ""


def test_a_corrected_dial_says_the_reading_and_the_process(run: Run) -> None:
    run.load.canner.kind = CannerKind.DIAL
    run.load.canner.save()
    Load.objects.filter(pk=run.load.pk).update(pressure_psi=11, target_reading_psi=12.5)
    told = label_of(lot_of(run), with_name=False).process.replace("\xa0", " ")
    assert told == "Pressure canned, dial gauge at 12.5 lb (process 11 lb), 25 min."


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("boiling-water", "Canned in boiling water, 20 min."),
        ("steam", "Canned in atmospheric steam, 20 min."),
    ],
)
def test_acid_food_says_so(kind: str, told: str) -> None:
    run = make_applesauce_run(make_site())
    run.load.canner.kind = kind
    run.load.canner.save()
    out = run.at(60)
    Load.objects.filter(pk=run.load.pk).update(state="closed", jars_out_at=out, process_ended_at=None)
    SealCheck.objects.create(
        portion=run.portion, sealed=9, unsealed=0, broken=0, checked_by=run.site.member, checked_at=out
    )
    words = label_of(lot_of(run), with_name=False)
    assert words.storage.endswith(ACID)
    assert words.process.replace("\xa0", " ") == told


def test_the_day_is_the_kitchens_own_not_greenwich(run: Run) -> None:
    # 23:30 in Denver is the next day in UTC.
    Load.objects.filter(pk=run.load.pk).update(process_ended_at=run.site.at(23, 30))
    assert label_of(lot_of(run), with_name=False).dates[0] == "Processed 12 Sep 2026"


def test_a_kitchen_may_set_best_by_earlier_never_later(run: Run) -> None:
    kitchen = change_policy(kitchen=run.site.kitchen, changes={"best_by_months": 6}, actor=run.site.lead)
    assert label_of(lot_of(run), with_name=False).dates[1] == "Best by 12 Mar 2027"
    with pytest.raises(KitchenError, match="best by months cannot be 13"):
        change_policy(kitchen=kitchen, changes={"best_by_months": 13}, actor=run.site.lead)
    with pytest.raises(IntegrityError), transaction.atomic():
        type(kitchen).objects.filter(pk=kitchen.pk).update(best_by_months=13)


@pytest.mark.parametrize(
    ("on", "months", "until"),
    [
        (date(2026, 9, 12), 12, date(2027, 9, 12)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (date(2026, 11, 30), 1, date(2026, 12, 30)),
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
    ],
)
def test_best_by_is_never_in_the_month_after(on: date, months: int, until: date) -> None:
    assert best_by(on, months) == until


def test_no_label_before_the_jars_are_out() -> None:
    assert "not recorded as out" in str(refused(make_bean_run(make_site())))


def test_no_label_before_the_seals_are_checked() -> None:
    assert "seals of these jars are not checked yet" in str(refused(make_beans_out(make_site())))


def test_no_label_when_none_sealed() -> None:
    assert "None of these jars was found sealed" in str(refused(make_shelf(sealed=0)))


def test_no_label_on_hold_and_one_again_once_released(run: Run) -> None:
    hold(run)
    told = refused(run)
    assert "on hold (rule S16). Vented 8 of 10 minutes" in told.message
    assert "lead has decided" in told.remedy
    decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason="Read again")
    check_fit_for_shelf(lot_of(run))


def test_no_label_for_what_was_thrown_out(run: Run) -> None:
    hold(run)
    decide_hold(load=run.load, outcome=HoldOutcome.DISCARDED, by=run.site.lead, reason="Too short")
    assert "thrown out" in str(refused(run))
    why = why_no_label(lot_of(run))
    assert why is not None
    assert why.__traceback__ is None
    assert lot_of(run).on_hand == 0
    assert on_shelf(run.site.kitchen) == []


def test_letters_that_cannot_be_printed_leave_the_name_off(run: Run) -> None:
    run.site.member.display_name = "Shira שרה"
    run.site.member.save()
    assert label_of(lot_of(run), with_name=True).member == ""


@pytest.mark.parametrize("name", ["Žofie Ґалайда", "Nguyễn Thị Ánh", "Ἀθηνᾶ Παππᾶ"])
def test_names_in_other_letters_are_printed(run: Run, name: str) -> None:
    run.site.member.display_name = name
    run.site.member.save()
    words = label_of(lot_of(run), with_name=True)
    (sheet,) = list(pypdfium2.PdfDocument(sheets_pdf([Copies(words=words, count=1)], SHEETS["a4-21"])))
    assert f"For {name}" in " ".join(sheet.get_textpage().get_text_bounded().split())


def test_each_batch_of_a_load_has_its_own_letter(run: Run) -> None:
    batch = declare(run.site, run.day, member=run.site.other)
    LoadPortion.objects.create(
        load=run.load, batch=batch, jars=2, process_key=run.portion.process_key, headspace_in=1
    )
    assert [lot.code[-2:] for lot in lots_named(run.site.kitchen, run.load.lot_code)] == ["-A", "-B"]


def test_who_may_label_whose_jars(run: Run) -> None:
    lot, site = lot_of(run), run.site
    for user in (site.member, site.operator, site.lead):
        assert labelled_by(user, site.kitchen, [lot]) == [lot]
    for user in (site.other, make_site().lead):
        assert labelled_by(user, site.kitchen, [lot]) == []


def move(run: Run, jars: int, kind: MoveKind = MoveKind.TAKEN_HOME, note: str = "") -> ShelfMove:
    now = run.at(BEANS_OUT) + timedelta(days=2)
    return move_jars(portion=run.portion, kind=kind, jars=jars, note=note, by=run.site.member, now=now)


def test_jars_leave_the_shelf_and_come_back_with_one_audit_line_each(run: Run) -> None:
    before = AuditEvent.objects.count()
    move(run, 5)
    assert (lot_of(run).on_hand, AuditEvent.objects.count() - before) == (2, 1)
    move(run, 4, MoveKind.PUT_BACK)
    assert (lot_of(run).on_hand, lot_of(run).taken) == (6, 1)
    assert AuditEvent.objects.filter(action="move_jars").count() == 2


@pytest.mark.parametrize(
    ("jars", "kind", "note", "told"),
    [
        (8, MoveKind.USED, "", "8 jars cannot be taken: 7"),
        (0, MoveKind.USED, "", "No jar is moved"),
        (1, MoveKind.PUT_BACK, "", "1 jars cannot come back: 0 were taken"),
        (1, MoveKind.GIVEN, "  ", "not said to whom"),
    ],
)
def test_moves_that_cannot_be_are_refused(run: Run, jars: int, kind: MoveKind, note: str, told: str) -> None:
    with pytest.raises(WrongCount, match=told):
        move(run, jars, kind, note)
    assert not ShelfMove.objects.exists()


def test_a_move_in_the_future_or_before_jars_out_is_refused(run: Run) -> None:
    now = run.at(BEANS_OUT) + timedelta(days=2)
    for at in (now + timedelta(minutes=3), run.at(BEANS_OUT) - timedelta(seconds=1)):
        with pytest.raises(BadTime):
            move_jars(portion=run.portion, kind=MoveKind.USED, jars=1, by=run.site.lead, at=at, now=now)


def test_jars_on_hold_stay_where_they_are(run: Run) -> None:
    hold(run)
    with pytest.raises(JarsOnHold):
        move(run, 1)


def test_other_members_move_nothing_and_operators_do(run: Run) -> None:
    with pytest.raises(NotAllowed):
        move_jars(portion=run.portion, kind=MoveKind.USED, jars=1, by=run.site.other)
    move_jars(
        portion=run.portion,
        kind=MoveKind.USED,
        jars=1,
        by=run.site.operator,
        now=run.at(BEANS_OUT) + timedelta(days=1),
    )


def test_a_count_corrected_below_what_was_taken_leaves_none(run: Run) -> None:
    move(run, 6)
    count_seals(run, sealed=4, unsealed=3, correct=True)
    assert (lot_of(run).sealed, lot_of(run).on_hand) == (4, 0)


@pytest.mark.parametrize("model", [ShelfMove, Reprocess])
def test_the_database_only_lets_rows_be_added(run: Run, model: type[ShelfMove] | type[Reprocess]) -> None:
    move(run, 1)
    offer = ReprocessOffer.objects.create(portion=run.portion, jars=1, deadline=run.at(0))
    (again,) = add_lots(run, 1)
    Reprocess.objects.create(offer=offer, portion=again, recorded_by=run.site.lead)
    row = model.objects.get()
    for statement in ("UPDATE {} SET id = id WHERE id = %s", "DELETE FROM {} WHERE id = %s"):
        with (
            pytest.raises(IntegrityError, match="only ever appended to"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(statement.format(model._meta.db_table), [row.pk])


def booked(run: Run) -> ReprocessOffer:
    """Two of seven did not seal, and are to be processed again."""
    at = run.at(BEANS_OUT) + timedelta(hours=13)
    run = make_beans_out(run.site) if run.fresh().jars_out_at is None else run
    offer = ReprocessOffer.objects.create(
        portion=run.portion, jars=2, deadline=run.at(57) + timedelta(days=1)
    )
    return decide_offer(offer=offer, accept=True, actor=run.site.member, now=at)


def second_process(run: Run, *, began: timedelta | None) -> LoadPortion:
    """Two jars of the same food in a later load, at pressure so long after the first process ended."""
    (portion,) = add_lots(run, 1)
    LoadPortion.objects.filter(pk=portion.pk).update(jars=2)
    if began is not None:
        RunEvent.objects.create(
            load=portion.load,
            kind=EventKind.AT_PRESSURE,
            at=run.at(57) + began,
            recorded_by=run.site.operator,
        )
    return portion


def test_jars_processed_again_carry_the_new_lot(run: Run) -> None:
    booked(run)
    again = second_process(run, began=timedelta(hours=23, minutes=59))
    note_reprocess(portion=run.portion, again=again, by=run.site.operator)
    assert Reprocess.objects.get().portion == again
    assert AuditEvent.objects.filter(action="note_reprocess").count() == 1
    again.load.refresh_from_db()
    assert not again.load.on_hold
    (lot,) = lots_of_portion(again)
    assert label_of(lot, with_name=False).lot == f"{again.load.lot_code}-A"


@pytest.mark.parametrize("began", [timedelta(hours=24), None], ids=["too late", "not recorded"])
def test_a_second_process_begun_too_late_is_noted_and_held(run: Run, began: timedelta | None) -> None:
    booked(run)
    again = second_process(run, began=began)
    note_reprocess(portion=run.portion, again=again, by=run.site.operator)
    again.load.refresh_from_db()
    assert again.load.on_hold
    assert "(rule S11)" in again.load.deviation


def test_only_what_was_agreed_and_can_be_is_noted_as_processed_again(run: Run) -> None:
    again = second_process(run, began=timedelta(hours=20))
    with pytest.raises(WrongReprocess, match="Nobody agreed"):
        note_reprocess(portion=run.portion, again=again, by=run.site.operator)
    booked(run)
    with pytest.raises(NotAllowed):
        note_reprocess(portion=run.portion, again=again, by=run.site.member)
    with pytest.raises(WrongReprocess, match="cannot be these jars"):
        note_reprocess(portion=run.portion, again=run.portion, by=run.site.operator)
    LoadPortion.objects.filter(pk=again.pk).update(jars=3)
    with pytest.raises(WrongReprocess, match="holds 3 jars, and 2"):
        note_reprocess(portion=run.portion, again=again, by=run.site.operator)
    LoadPortion.objects.filter(pk=again.pk).update(jars=2)
    note_reprocess(portion=run.portion, again=again, by=run.site.operator)
    with pytest.raises(AlreadyDecided):
        note_reprocess(portion=run.portion, again=again, by=run.site.operator)


def on_shelf(kitchen: Kitchen, member: User | None = None) -> list[LoadPortion]:
    return [lot.portion for lot in lots_shelved(kitchen, shelved_in(kitchen, member))]


def test_the_shelf_has_the_oldest_first_and_drops_what_is_used_up(run: Run) -> None:
    first, second = add_lots(run, 2)
    assert on_shelf(run.site.kitchen) == [run.portion, first, second]
    move(run, 7, MoveKind.USED)
    assert on_shelf(run.site.kitchen, run.site.member) == [first, second]
    assert on_shelf(run.site.kitchen, run.site.other) == []
    hold(run)
    assert on_shelf(run.site.kitchen)[0] == run.portion


def test_a_label_is_in_the_language_of_whoever_prints_it(run: Run) -> None:
    """In the language in which every translation shows no plain letter is left but in names, codes and units."""
    lot = lot_of(run)
    with widened(), translation.override("es"):
        told = [block.text for block in label_of(lot, with_name=True).blocks()]
    kept = re.compile(rf"{re.escape(lot.code)}|{re.escape(str(lot.member))}|\b(?:lb|min|F|C|de)\b")
    assert [text for text in told if re.search("[A-Za-z]", kept.sub("", text))] == []


def test_a_label_in_spanish_fits_every_sheet(run: Run) -> None:
    with translation.override("es"):
        words = label_of(lot_of(run), with_name=True)
        assert words.dates == ("Procesado el 12 sep 2026", "Mejor antes del 12 sep 2027")
        for sheet in SHEETS.values():
            assert sheets_pdf([Copies(words=words, count=1)], sheet).startswith(b"%PDF-")
