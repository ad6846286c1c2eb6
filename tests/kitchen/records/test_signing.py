"""Who signs a process record, who reviews it, and what happens when something is written afterwards."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from importlib import import_module
from random import Random

import pytest
from django.apps import apps
from django.db import connection

from kitchen.audit.models import AuditEvent
from kitchen.errors import AlreadyDecided, BadSetting, KitchenError, NotAllowed, OutOfOrder, RecordChanged
from kitchen.floor.actions import record_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.members.models import Membership, Role, User
from kitchen.planning.loads import hold_load
from kitchen.planning.models import Load
from kitchen.records.actions import review_record, send_back_record, sign_record
from kitchen.records.content import Record, record_of
from kitchen.records.models import RecordSignature
from kitchen.records.pages import state_of
from kitchen.records.queries import loads_to_review, loads_to_sign
from kitchen.records.rules import review_due
from tests.factories.canner_runs import BEANS_OUT, Run, make_bean_run, make_beans_out
from tests.factories.loads import make_member
from tests.factories.shelf import make_shelf
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """Seven quarts of beans, their run recorded by the operator without a fault."""
    return make_beans_out(make_site())


def read(run: Run) -> Record:
    return record_of(run.load)


def sign(run: Run, by: User | None = None, note: str = "") -> RecordSignature:
    return sign_record(
        load=run.load, by=by or run.site.operator, digest=read(run).digest, note=note, now=run.at(200)
    )


def review(run: Run, by: User | None = None) -> RecordSignature:
    return review_record(load=run.load, by=by or run.site.lead, digest=read(run).digest, now=run.at(300))


def send_back(run: Run, note: str) -> RecordSignature:
    digest = read(run).digest
    return send_back_record(load=run.load, by=run.site.lead, digest=digest, note=note, now=run.at(250))


def correct_weight_on(run: Run, by: User | None = None) -> RunEvent:
    """The weight went on a minute later than was tapped."""
    line = RunEvent.objects.get(load=run.load, kind=EventKind.WEIGHT_ON, corrected_by__isnull=True)
    return record_event(
        load=run.load,
        kind=EventKind.WEIGHT_ON,
        at=line.at + timedelta(minutes=1),
        actor=by or run.site.operator,
        corrects=line,
        now=run.at(400),
    )


def waiting(run: Run) -> bool:
    return loads_to_review(run.site.kitchen).filter(pk=run.load.pk).exists()


def test_from_the_operators_press_to_the_leads(run: Run) -> None:
    assert waiting(run)
    sign(run)
    assert (read(run).to_sign, waiting(run)) == ((), True)
    review(run)
    assert state_of(read(run)) == f"Reviewed by {run.site.lead}."
    assert not waiting(run)
    assert list(
        AuditEvent.objects.filter(action__startswith="record_s").values_list("action", flat=True)
    ) == ["record_signed"]


@pytest.mark.parametrize(
    ("who", "refusal"), [("lead", NotAllowed), ("member", NotAllowed), ("operator", AlreadyDecided)]
)
def test_who_wrote_signs_once(run: Run, who: str, refusal: type[KitchenError]) -> None:
    sign(run)
    with pytest.raises(refusal):
        sign(run, getattr(run.site, who))
    assert RecordSignature.objects.count() == 1


def test_nothing_is_signed_before_the_jars_are_out() -> None:
    run = make_bean_run(make_site())
    run.tap(EventKind.LOADED, 5)
    with pytest.raises(OutOfOrder, match="not recorded as out"):
        sign(run)


def test_everybody_who_wrote_signs_before_the_review(run: Run) -> None:
    correct_weight_on(run, by=run.site.lead)
    sign(run)
    with pytest.raises(OutOfOrder, match="Lead Fenwick"):
        review(run)
    assert read(run).to_sign == (run.site.lead,)


def test_who_left_the_kitchen_is_not_waited_for(run: Run) -> None:
    Membership.objects.filter(user=run.site.operator).update(left_at=run.at(150))
    assert (read(run).to_sign, read(run).left) == ((), (run.site.operator,))
    review(run)


def test_nobody_reviews_a_run_they_took_part_in_while_another_lead_did_not(run: Run) -> None:
    correct_weight_on(run, by=run.site.lead)
    other = make_member(run.site.kitchen, "Odile Varga", Role.LEAD)
    sign(run)
    sign(run, run.site.lead)
    with pytest.raises(NotAllowed, match="Ask another lead: Odile Varga"):
        review(run)
    assert not review(run, other).alone


def test_the_only_lead_reviews_and_the_record_says_so(run: Run) -> None:
    correct_weight_on(run, by=run.site.lead)
    sign(run)
    sign(run, run.site.lead)
    assert review(run).alone


def test_an_operator_reviews_nothing(run: Run) -> None:
    sign(run)
    with pytest.raises(NotAllowed):
        review(run, run.site.operator)
    correct_weight_on(run)
    with pytest.raises(OutOfOrder, match="not signed by"):
        review(run)


def test_what_is_written_after_the_review_asks_for_both_again(run: Run) -> None:
    sign(run)
    review(run)
    line = correct_weight_on(run)
    record = read(run)
    after = record.written_after(line)
    assert after is not None
    assert after.by == run.site.lead
    assert state_of(record) == f"Changed since it was signed: to be signed again by {run.site.operator}."
    assert waiting(run)
    sign(run)
    review(run)
    assert (waiting(run), len(read(run).signatures)) == (False, 4)


def test_a_deviation_found_later_asks_for_a_review_and_for_no_signature(run: Run) -> None:
    sign(run)
    review(run)
    hold_load(load=run.fresh(), deviations=["The jars stood in a draught."], actor=run.site.lead)
    assert (read(run).review, read(run).to_sign, waiting(run)) == (None, (), True)
    review(run)
    assert not waiting(run)


def test_what_others_found_out_meanwhile_stays_in_the_deviation(run: Run) -> None:
    one, other = run.fresh(), run.fresh()
    hold_load(load=one, deviations=["Vented 8 of 10 minutes (rule S4)."], actor=run.site.operator)
    hold_load(load=other, deviations=["The gauge reads high (rule S8)."], actor=run.site.lead)
    told = ["Vented 8 of 10 minutes (rule S4).", "The gauge reads high (rule S8)."]
    assert run.fresh().deviation.splitlines() == told
    hold_load(load=one, deviations=told, actor=run.site.lead)
    assert run.fresh().deviation.splitlines() == told


def test_what_was_pressed_under_an_older_record_is_refused(run: Run) -> None:
    before = read(run).digest
    correct_weight_on(run)
    with pytest.raises(RecordChanged):
        sign_record(load=run.load, by=run.site.operator, digest=before)
    sign(run)
    with pytest.raises(RecordChanged):
        review_record(load=run.load, by=run.site.lead, digest=before)


def test_a_record_goes_back_with_what_is_missing_and_is_signed_again() -> None:
    run = make_shelf()  # Counted: its lines cannot be corrected any more, but a note can be added.
    sign(run)
    with pytest.raises(BadSetting, match="what is missing"):
        send_back(run, "  ")
    send_back(run, "Who filled the jars?")
    record = read(run)
    assert state_of(record) == f"Sent back: to be signed again by {run.site.operator}."
    with pytest.raises(OutOfOrder):
        review(run)
    sign(run, note="Odile did, at the small table.")
    review(run)
    assert read(run).sent_back is None
    with pytest.raises(AlreadyDecided):
        review(run)


@pytest.mark.parametrize("seed", range(4))
def test_what_waits_for_a_review_is_what_no_review_stands_under(run: Run, seed: int) -> None:
    """Whatever is written, signed, reviewed, sent back or found out, in whatever order."""
    chance, seen, refused = Random(seed), set[bool](), 0  # noqa: S311  # It only has to be the same each time.
    stale = run.fresh()
    steps: tuple[Callable[[], object], ...] = (
        lambda: sign(run),
        lambda: review(run),
        lambda: review(run),
        lambda: send_back(run, "No reading at pressure."),
        lambda: correct_weight_on(run),
        # Whoever finds it out may have read the load long before.
        lambda: hold_load(load=stale, deviations=[f"Draught {chance.random()}"], actor=run.site.lead),
    )
    for _ in range(40):
        try:
            chance.choice(steps)()
        except (AlreadyDecided, OutOfOrder):
            refused += 1
        assert waiting(run) == (read(run).review is None)
        seen.add(waiting(run))
    assert seen == {True, False}
    assert refused


def test_loads_that_were_reviewed_before_are_found_by_the_migration(run: Run) -> None:
    migration = import_module("kitchen.records.migrations.0004_what_is_reviewed")

    def found() -> bool:
        Load.objects.update(reviewed=False)
        migration.note(apps, connection.SchemaEditorClass(connection))
        return not waiting(run)

    told = [found()]
    for step in (
        lambda: sign(run),
        lambda: review(run),
        lambda: correct_weight_on(run),
        lambda: sign(run),
        lambda: review(run),
        lambda: hold_load(load=run.fresh(), deviations=["A draught."], actor=run.site.lead),
    ):
        step()
        told.append(found())
    assert told == [False, False, True, False, False, True, False]


def test_who_wrote_is_asked_to_sign_until_they_have(run: Run) -> None:
    def asked(by: User) -> int:
        return loads_to_sign(run.site.kitchen, by, run.at(0)).count()

    assert (asked(run.site.operator), asked(run.site.lead)) == (1, 0)
    assert loads_to_sign(run.site.kitchen, run.site.operator, run.at(BEANS_OUT + 1)).count() == 0
    sign(run)
    assert asked(run.site.operator) == 0
    send_back(run, "No reading at pressure.")
    assert asked(run.site.operator) == 1
    sign(run)
    assert asked(run.site.operator) == 0
    correct_weight_on(run)
    assert asked(run.site.operator) == 1


def test_a_name_changed_later_changes_no_record(run: Run) -> None:
    sign(run)
    run.site.operator.display_name = "Somebody Else"
    run.site.operator.save()
    assert not read(run).changed_since_signed


def test_the_digest_follows_every_fact(run: Run) -> None:
    seen = {read(run).digest}
    run.load.__class__.objects.filter(pk=run.load.pk).update(target_reading_psi=14)
    seen.add(read(run).digest)
    run.portion.__class__.objects.filter(pk=run.portion.pk).update(jars=6)
    seen.add(read(run).digest)
    correct_weight_on(run)
    seen.add(read(run).digest)
    assert len(seen) == 4


@pytest.mark.parametrize(
    ("day", "due"), [(11, date(2026, 9, 14)), (12, date(2026, 9, 14)), (14, date(2026, 9, 15))]
)
def test_the_review_is_due_on_the_next_working_day(run: Run, day: int, due: date) -> None:
    """The twelfth is a Saturday."""
    out = run.at(BEANS_OUT) + timedelta(days=day - 12)
    run.load.__class__.objects.filter(pk=run.load.pk).update(jars_out_at=out)
    assert review_due(read(run)) == due
