"""What would place it: asked on the day's page, found by a worker, made by a press, and planned again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from html import escape, unescape
from typing import NamedTuple

import pytest
from django.urls import reverse

from kitchen.audit.models import AuditEvent
from kitchen.batches.actions import change_batch
from kitchen.batches.models import Batch
from kitchen.errors import AlreadyDecided, BadIntake, NotAllowed, PlanOutOfDate
from kitchen.harvest.actions import make_change
from kitchen.harvest.bridge import answers_of
from kitchen.harvest.remedies import Choice
from kitchen.planning import answering, tasks
from kitchen.planning.actions import request_plan
from kitchen.planning.answering import run_what_if
from kitchen.planning.asking import (
    RUN_WHAT_IF_TASK,
    fail_what_if,
    finish_what_if,
    keep_asking,
    request_what_if,
    start_what_if,
    stop_what_if,
    tend_what_ifs,
)
from kitchen.planning.bridge import day_digest, day_of, read_day, read_plan, read_what_if
from kitchen.planning.jobs import SILENT_AFTER
from kitchen.planning.models import HarvestDay, JobState, PlanJob, WhatIfJob
from kitchen.rota.models import Attendance
from scheduler.what_if.change import changed
from tests.factories.sites import Site, declare, make_open_day, make_site, plan
from tests.factories.walks import signed_in

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Open from seven to eleven, with two loads of beans for its one pressure canner: time for one."""
    opened = make_open_day(site)
    opened.closes_at = site.at(11)
    opened.save()
    Attendance.objects.update(ends_at=opened.closes_at)
    for member in (site.member, site.other):
        declare(site, opened, member=member)
    return opened


def answered(site: Site, day: HarvestDay) -> PlanJob:
    """A plan of the day about which everything was asked; the clock stands still."""
    job = plan(site, day)
    asked = request_what_if(job=job, actor=site.lead)
    assert run_what_if(asked.pk, clock=lambda: 0.0)
    asked.refresh_from_db()
    assert (asked.state, asked.failure) == (JobState.FINISHED, "")
    return job


def choices(job: PlanJob) -> list[Choice]:
    found = WhatIfJob.objects.get(job=job).found
    return [choice for one in answers_of(job.day, found).batches for choice in one.choices]


def address(name: str, day: HarvestDay, job: PlanJob | None = None) -> str:
    values = [day.kitchen.slug, day.uuid, *([] if job is None else [job.uuid])]
    return reverse(f"harvest:{name}", args=values)


def page(site: Site, day: HarvestDay) -> str:
    return unescape(signed_in(site.lead).get(address("day", day)).content.decode())


def test_a_lead_asks_and_is_told_and_a_change_places_the_batch(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    (left,) = read_plan(job.plan).left_out
    assert "Ask what would place it" in page(site, day)
    lead = signed_in(site.lead)
    watching = lead.post(address("ask", day, job), follow=True)
    assert watching.redirect_chain[-1][0] == address("what-if", day, job)
    assert "Waiting for the worker" in watching.content.decode()
    assert "A worker is looking." in page(site, day)
    asked = WhatIfJob.objects.get()
    assert run_what_if(asked.pk, clock=lambda: 0.0)
    assert lead.get(address("what-if", day, job))["Location"] == f"{address('day', day)}#what-if"
    told = page(site, day)
    later = next(one for one in choices(job) if "Close at 11:30 instead of 11:00" in one.words)
    assert later.can_be_made
    for words in (later.words, later.proof, "Make this change"):
        assert words in told
    answer = lead.post(address("make", day, job), {"change": later.name}, follow=True)
    assert "The change is made." in answer.content.decode()
    day.refresh_from_db()
    assert day.closes_at == site.at(11, 30)
    assert set(Attendance.objects.values_list("ends_at", flat=True)) == {site.at(11, 30)}
    assert not read_plan(plan(site, day).plan).left_out
    assert left.batch_id in {str(one.pk) for one in Batch.objects.all()}


def test_the_day_becomes_just_the_day_that_was_planned_in_trial(site: Site, day: HarvestDay) -> None:
    """Every choice that a press can make, each on the day as it was."""
    job = answered(site, day)
    found = read_what_if(WhatIfJob.objects.get(job=job).found)
    remedies = [remedy for one in found.answers for remedy in one.remedies]
    made = 0
    for choice, remedy in zip(choices(job), remedies, strict=True):
        if not choice.can_be_made:
            continue
        wanted = day_digest(changed(read_day(job.day), remedy.changes))
        before = Before(
            day.closes_at, list(Batch.objects.order_by("pk")), list(Attendance.objects.order_by("pk"))
        )
        make_change(job=job, name=choice.name, actor=site.lead)
        made += 1
        assert day_digest(day_of(HarvestDay.objects.get())) == wanted
        restore(day, before)
    assert made


class Before(NamedTuple):
    """The rows as they were."""

    closes_at: datetime
    batches: list[Batch]
    attendances: list[Attendance]


def restore(day: HarvestDay, before: Before) -> None:
    HarvestDay.objects.update(closes_at=before.closes_at)
    for batch in before.batches:
        batch.save()
    Attendance.objects.all().delete()
    Attendance.objects.bulk_create(before.attendances)
    day.refresh_from_db()


def test_each_step_of_a_change_is_audited(site: Site, day: HarvestDay) -> None:
    job = answered(site, day)
    later = next(one for one in choices(job) if "Close at" in one.words)
    seen = AuditEvent.objects.count()
    make_change(job=job, name=later.name, actor=site.lead)
    actions = [one.action for one in AuditEvent.objects.order_by("pk")[seen:]]
    assert actions == ["change_hours", *["withdraw_attendance", "attend"] * 4]


def test_a_change_of_a_day_that_has_moved_on_is_refused(site: Site, day: HarvestDay) -> None:
    job = answered(site, day)
    name = choices(job)[0].name
    with pytest.raises(PlanOutOfDate, match="not among the answers"):
        make_change(job=job, name="99-0", actor=site.lead)
    declare(site, day)
    with pytest.raises(PlanOutOfDate, match="changed after this plan"):
        make_change(job=job, name=name, actor=site.lead)
    answer = signed_in(site.lead).post(address("make", day, job), {"change": name}, follow=True)
    assert "Plan the day again, then ask again." in answer.content.decode()


def test_only_a_lead_asks_and_changes(site: Site, day: HarvestDay) -> None:
    job = answered(site, day)
    before = HarvestDay.objects.get().closes_at
    for user in (site.operator, site.member):
        with pytest.raises(NotAllowed):
            request_what_if(job=job, actor=user)
        with pytest.raises(NotAllowed):
            make_change(job=job, name=choices(job)[0].name, actor=user)
        with pytest.raises(NotAllowed):
            stop_what_if(asked=WhatIfJob.objects.get(), actor=user)
    assert HarvestDay.objects.get().closes_at == before


def test_a_day_with_everything_placed_in_time_asks_nothing(site: Site) -> None:
    whole = make_open_day(site)
    declare(site, whole)
    plan(site, whole)
    assert "What would place it" not in page(site, whole)


def test_a_member_sees_no_answers(site: Site, day: HarvestDay) -> None:
    job = answered(site, day)
    told = signed_in(site.member).get(address("day", day)).content.decode()
    assert escape(choices(job)[0].words) not in told


def test_a_search_tries_just_the_plan_that_the_page_will_ask_for(
    site: Site, day: HarvestDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else a change could be offered that the plan made after it does not bear out."""
    heard: list[tuple[object, object]] = []

    def ask(*question: object, plan_seconds: float, plan_seed: int, **limits: object) -> None:
        heard.append((plan_seconds, plan_seed))

    monkeypatch.setattr(answering, "ask_what_if", ask)
    answered(site, day)
    signed_in(site.lead).post(address("plan", day))
    asked = PlanJob.objects.get(state=JobState.WAITING)
    assert heard == [(asked.seconds_limit, asked.seed)]


def test_a_search_is_taken_once_and_asked_for_once(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    asked = request_what_if(job=job, actor=site.lead)
    assert request_what_if(job=job, actor=site.lead) == asked
    assert tasks.run_what_if_job.name == RUN_WHAT_IF_TASK
    assert start_what_if(asked_id=asked.pk) == asked
    assert not tasks.run_what_if_job(asked.pk)
    assert keep_asking(asked_id=asked.pk)


def test_a_waiting_plan_goes_before_a_search(site: Site, day: HarvestDay) -> None:
    asked = request_what_if(job=plan(site, day), actor=site.lead)
    start_what_if(asked_id=asked.pk)
    request_plan(harvest_day=day, actor=site.lead)
    assert not keep_asking(asked_id=asked.pk)


def test_a_search_is_stopped_with_what_it_has(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    asked = request_what_if(job=job, actor=site.lead)
    assert stop_what_if(asked=asked, actor=site.lead).state == JobState.STOPPED
    with pytest.raises(AlreadyDecided):
        stop_what_if(asked=asked, actor=site.lead)
    asked = request_what_if(job=job, actor=site.lead)
    start_what_if(asked_id=asked.pk)
    signed_in(site.lead).post(address("stop-asking", day, job))
    assert not keep_asking(asked_id=asked.pk)
    ended = finish_what_if(asked_id=asked.pk, found=None)
    assert ended is not None
    assert ended.state == JobState.STOPPED
    assert finish_what_if(asked_id=asked.pk, found=None) is None


def test_a_search_whose_worker_died_is_given_up_and_can_be_asked_again(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    asked = request_what_if(job=job, actor=site.lead)
    start_what_if(asked_id=asked.pk, now=NOW)
    assert tend_what_ifs(now=NOW + timedelta(seconds=10)) == 0
    assert tend_what_ifs(now=NOW + SILENT_AFTER + timedelta(seconds=1)) == 1
    assert "not heard of any more" in page(site, day)
    assert "Ask what would place it" in page(site, day)
    again = request_what_if(job=job, actor=site.lead)
    assert (again.pk, again.state, again.failure) == (asked.pk, JobState.WAITING, "")
    stop_what_if(asked=again, actor=site.lead)
    fail_what_if(asked_id=again.pk, failure="too late")
    again.refresh_from_db()
    assert (again.state, again.failure) == (JobState.STOPPED, "")


def test_answers_of_an_older_form_are_asked_for_again(site: Site, day: HarvestDay) -> None:
    job = answered(site, day)
    WhatIfJob.objects.update(found={"answers": "of old"})
    assert "Ask what would place it" in page(site, day)
    with pytest.raises(PlanOutOfDate, match="older form"):
        make_change(job=job, name="1-0", actor=site.lead)


def test_a_job_without_a_plan_cannot_be_asked_about(site: Site, day: HarvestDay) -> None:
    job = request_plan(harvest_day=day, actor=site.lead)
    with pytest.raises(PlanOutOfDate):
        request_what_if(job=job, actor=site.lead)


def test_a_change_of_a_batch_is_held_to_the_published_tables(site: Site, day: HarvestDay) -> None:
    beans = Batch.objects.filter(member=site.member).get()
    pints = change_batch(batch=beans, jar="pint", jars=14, actor=site.member)
    assert (pints.jar, pints.jars, int(pints.amount), pints.jars_high) == ("pint", 14, 14, 14)
    with pytest.raises(BadIntake):
        change_batch(batch=beans, jar="half_gallon", jars=4, actor=site.member)
    with pytest.raises(BadIntake):
        change_batch(batch=beans, picks_up_at=beans.arrives_at, actor=site.member)
    with pytest.raises(NotAllowed):
        change_batch(batch=beans, pack="hot", actor=site.other)
    beans.refresh_from_db()
    assert (beans.jar, beans.pack) == ("pint", "raw")
