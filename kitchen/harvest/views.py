"""The harvest day's pages: its batches and people, the plan and how it is made, and publishing it."""

from __future__ import annotations

from contextlib import suppress
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitchen.errors import KitchenError, PlanOutOfDate
from kitchen.harvest.bridge import (
    CAUTION,
    answers_of,
    progress_words,
)
from kitchen.harvest.day_pieces import brought_piece, helpers_piece
from kitchen.harvest.forms import HelpForm, OpenForm
from kitchen.harvest.pages import helpers_of, hours_words, job_named
from kitchen.harvest.plan_pieces import plan_changes, plan_chart, plan_picture, plan_tables
from kitchen.harvest.queries import brought_to, canners_used
from kitchen.helping.bridge import busy_between
from kitchen.members.models import User
from kitchen.members.pages import kitchen_named, person, wall_time
from kitchen.members.queries import trained_on
from kitchen.members.rules import Deed, can, check_may
from kitchen.planning.actions import (
    change_hours,
    close_harvest_day,
    open_harvest_day,
    publish_plan,
    request_plan,
)
from kitchen.planning.jobs import ask_stop
from kitchen.planning.models import OPEN_JOB_STATES, DayState, HarvestDay, PlanJob
from kitchen.planning.queries import (
    Standing,
    what_if_of,
)
from kitchen.planning.rules import can_be_planned, can_be_published, can_rest_be_planned
from kitchen.planning.verdict import known_violations
from kitchen.rota.board import hours_piece, seats_of
from kitchen.rota.forms import HOURS_UNREADABLE, HoursForm
from kitchen.rota.pages import day_named
from kitchen.rota.queries import shifts_wanted
from kitchen.rota.shortage import shortages


@require_safe
def day(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """A harvest day: what is brought, who helps, and the plan as far as it has come."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = day_named(here, day)
    hours = {
        "starts": found.opens_at.astimezone(here.zone).time(),
        "ends": found.closes_at.astimezone(here.zone).time(),
    }
    batches, is_open = brought_to(found.pk), found.state != DayState.CLOSED
    helpers = helpers_of(found, me, lead=can(me, here, Deed.PLAN_DAY))
    context = {
        "kitchen": here,
        "day": found,
        "open": is_open,
        "batches": batches,
        "jars": sum(batch.jars for batch in batches),
        "brought": brought_piece(found, batches),
        "helpers": helpers,
        "who_helps": helpers_piece(found, helpers, trained_on(here, found.date), is_open=is_open),
        "sheets": canners_used(here, found),
        "help_form": HelpForm(initial=hours),
        "busy": hours_words(here, busy_between(me, found.opens_at, found.closes_at)),
        "missing": _missing(found),
        "hours": hours_piece(found, seats_of(found)) if found.state != DayState.DRAFT else "",
        "caution": CAUTION,
        **_plan_context(found, me),
    }
    return render(request, "harvest/day.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def open_day(request: HttpRequest, kitchen: str) -> HttpResponse:
    """A lead announces a harvest day; from then on members say what they bring."""
    here, me = kitchen_named(request, kitchen), person(request)
    check_may(me, here, Deed.PLAN_DAY)
    form, refusal = OpenForm(request.POST or None), None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            opened = open_harvest_day(
                kitchen=here,
                day=given["date"],
                opens_at=wall_time(here, given["date"], given["opens"]),
                closes_at=wall_time(here, given["date"], given["closes"]),
                actor=me,
            )
        except KitchenError as refused:
            refusal = refused
        else:
            messages.success(request, "The harvest day is open. Members can now say what they bring.")
            return redirect("harvest:day", here.slug, opened.uuid)
    status = 422 if request.method == "POST" else 200
    return render(
        request, "harvest/open.html", {"kitchen": here, "form": form, "refusal": refusal}, status=status
    )


@require_POST
def change(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """A lead changes when the day opens and closes."""
    here, me = kitchen_named(request, kitchen), person(request)
    found, form = day_named(here, day), HoursForm(request.POST)
    check_may(me, here, Deed.PLAN_DAY)
    if form.is_valid():
        opens, closes = (wall_time(here, found.date, form.cleaned_data[name]) for name in ("starts", "ends"))
        try:
            change_hours(harvest_day=found, opens_at=opens, closes_at=closes, actor=me)
        except KitchenError as refusal:
            messages.error(request, str(refusal))
        else:
            messages.success(request, "The hours are changed. A plan made before must be made again.")
    else:
        messages.error(request, HOURS_UNREADABLE)
    return redirect("harvest:day", here.slug, found.uuid)


@require_POST
def close(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """A lead ends the day for good."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = day_named(here, day)
    try:
        close_harvest_day(harvest_day=found, actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    return redirect("harvest:day", here.slug, found.uuid)


@require_POST
def plan(request: HttpRequest, kitchen: str, day: UUID) -> HttpResponse:
    """Ask for a plan, and go where its progress shows."""
    here = kitchen_named(request, kitchen)
    found = day_named(here, day)
    try:
        job = request_plan(harvest_day=found, actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
        return redirect("harvest:day", here.slug, found.uuid)
    return redirect("harvest:progress", here.slug, found.uuid, job.uuid)


@require_safe
def progress(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """How a plan is coming along; leads back to the day when it is done."""
    here = kitchen_named(request, kitchen)
    check_may(person(request), here, Deed.PLAN_DAY)
    found = job_named(day_named(here, day), job)
    if found.state not in OPEN_JOB_STATES:
        if found.around is not None:
            return redirect("harvest:drawn", here.slug, found.harvest_day.uuid, found.uuid)
        return redirect("harvest:day", here.slug, found.harvest_day.uuid)
    context = {
        "kitchen": here,
        "day": found.harvest_day,
        "job": found,
        "levels": progress_words(found.progress, found.harvest_day),
        "caution": CAUTION,
    }
    return render(request, "harvest/progress.html", context)


@require_safe
def chart(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """A plan as a picture. One that is not published is the lead's alone."""
    here = kitchen_named(request, kitchen)
    found = job_named(day_named(here, day), job, light=True)
    if not found.has_plan:
        raise Http404
    if found.published_at is None:
        check_may(person(request), here, Deed.PLAN_DAY)
    return HttpResponse(plan_chart(found), content_type="image/svg+xml")


@require_POST
def stop(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Stop planning; the best plan so far is kept."""
    here = kitchen_named(request, kitchen)
    found = job_named(day_named(here, day), job)
    try:
        ask_stop(job=found, actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    return redirect("harvest:progress", here.slug, found.harvest_day.uuid, found.uuid)


@require_POST
def publish(request: HttpRequest, kitchen: str, day: UUID, job: UUID) -> HttpResponse:
    """Make a plan the day's truth."""
    here = kitchen_named(request, kitchen)
    found = day_named(here, day)
    try:
        publish_plan(job=job_named(found, job), actor=person(request))
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "The plan is published. Members see their times, and calendars follow.")
    return redirect("harvest:day", here.slug, found.uuid)


def _missing(day: HarvestDay) -> list[str]:
    """Where hands are missing from now on, in words."""
    now = timezone.now()
    return shortages(shifts_wanted(day, now), now)


def _plan_context(day: HarvestDay, me: User) -> dict[str, object]:
    """The plan to show: a lead sees the newest, everybody else the one that is published."""
    lead = can(me, day.kitchen, Deed.PLAN_DAY)
    standing = Standing(day)
    job = (standing.newest_planned if lead else None) or standing.published
    newest = standing.newest if lead else None
    broken = known_violations(job) if job is not None else ()
    return {
        "lead": lead,
        "labels": day.state != DayState.DRAFT and can(me, day.kitchen, Deed.LABEL_ANY_JARS),
        "records": day.state != DayState.DRAFT and can(me, day.kitchen, Deed.SEE_RECORDS),
        "running": standing.open_job if lead else None,
        "failed": newest.failure if newest is not None else "",
        "job": job,
        "picture": plan_picture(job),
        "tables": plan_tables(job, day),
        **_what_if_context(job, lead=lead),
        "violations": broken,
        "difference": plan_changes(job, standing.published, day) if lead else "",
        "may_plan": lead and can_be_planned(day, standing),
        "may_plan_rest": lead and can_rest_be_planned(day, timezone.now(), standing),
        "may_publish": lead
        and job is not None
        and job.published_at is None
        and not broken
        and can_be_published(job, day, standing),
    }


def _what_if_context(job: PlanJob | None, *, lead: bool) -> dict[str, object]:
    """What was asked about the plan that is shown, for the lead; answers of an older form can be asked for again."""
    asked = what_if_of(job) if lead and job is not None else None
    answers = None
    if asked is not None and job is not None and asked.found is not None:
        with suppress(PlanOutOfDate):
            answers = answers_of(job.day, asked.found)
    return {
        "asked": asked,
        "asking": asked is not None and asked.state in OPEN_JOB_STATES,
        "answers": answers,
    }
