"""What may follow what: the states of days, jobs and loads, and when a plan may be published."""

from __future__ import annotations

from datetime import date, datetime

from kitchen.errors import BadHarvestDay, OutOfOrder, PlanningUnderWay, PlanOutOfDate
from kitchen.members.models import Kitchen
from kitchen.planning.models import DayState, HarvestDay, JobState, LoadState, PlanJob
from kitchen.planning.queries import Standing, first_started_load, open_job

# Every state appears as a key; a state that nothing follows is final.
VALID_DAY_NEXT: dict[DayState, frozenset[DayState]] = {
    DayState.DRAFT: frozenset({DayState.PUBLISHED, DayState.CLOSED}),
    DayState.PUBLISHED: frozenset({DayState.PUBLISHED, DayState.CLOSED}),
    DayState.CLOSED: frozenset(),
}
VALID_JOB_NEXT: dict[JobState, frozenset[JobState]] = {
    JobState.WAITING: frozenset({JobState.RUNNING, JobState.STOPPED, JobState.FAILED}),
    JobState.RUNNING: frozenset({JobState.STOP_ASKED, JobState.FINISHED, JobState.FAILED}),
    JobState.STOP_ASKED: frozenset({JobState.STOPPED, JobState.FAILED}),
    JobState.FINISHED: frozenset(),
    JobState.STOPPED: frozenset(),
    JobState.FAILED: frozenset(),
}
VALID_LOAD_NEXT: dict[LoadState, frozenset[LoadState]] = {
    LoadState.PLANNED: frozenset({LoadState.RUNNING, LoadState.OUT, LoadState.CANCELLED}),
    LoadState.RUNNING: frozenset({LoadState.OUT}),
    LoadState.OUT: frozenset({LoadState.CLOSED}),
    LoadState.CLOSED: frozenset(),
    LoadState.CANCELLED: frozenset(),
}


def check_day_hours(kitchen: Kitchen, day: date, opens_at: datetime, closes_at: datetime) -> None:
    """Refuse a day that closes before it opens, or whose opening is on another date in the kitchen's own
    time.
    """
    if opens_at.tzinfo is None or closes_at.tzinfo is None:
        raise BadHarvestDay("The opening hours have no time zone.", remedy="Give aware times.")
    if closes_at <= opens_at:
        raise BadHarvestDay(
            f"The kitchen cannot close at {closes_at.astimezone(kitchen.zone):%H:%M} "
            f"when it opens at {opens_at.astimezone(kitchen.zone):%H:%M}.",
            remedy="Set the closing after the opening.",
        )
    if opens_at.astimezone(kitchen.zone).date() != day:
        raise BadHarvestDay(
            f"The opening is not on {day} in {kitchen.time_zone}.", remedy="Give the day's own hours."
        )


def check_day_may_become(day: HarvestDay, state: DayState) -> None:
    """Refuse a change of the day's state that is not in the table."""
    if state not in VALID_DAY_NEXT[DayState(day.state)]:
        raise BadHarvestDay(
            f"{day} is {day.get_state_display().lower()}.", remedy="Open another day for new work."
        )


def check_load_may_become(now: LoadState, state: LoadState) -> None:
    """Refuse a change of a load's state that is not in the table."""
    if state not in VALID_LOAD_NEXT[now]:
        raise OutOfOrder(
            f"A load that is {now.label.lower()} cannot become {state.label.lower()}.",
            remedy="Look at the process record; correct a wrong line by a further one.",
        )


def check_may_be_planned(day: HarvestDay, standing: Standing | None = None) -> None:
    """Refuse a day that is over, under way, or being planned already."""
    standing = standing or Standing(day)
    check_day_may_become(day, DayState.PUBLISHED)
    started = standing.started
    if started is not None:
        raise BadHarvestDay(
            f"The day is under way: load {started} has begun.",
            remedy="Record what happens on the run sheets, and plan the rest of the day again.",
        )
    if standing.open_job is not None:
        raise PlanningUnderWay(f"{day} is being planned already.", remedy="Wait for it, or stop it first.")


def can_be_planned(day: HarvestDay, standing: Standing | None = None) -> bool:
    """True when ``check_may_be_planned`` refuses nothing."""
    try:
        check_may_be_planned(day, standing)
    except (BadHarvestDay, PlanningUnderWay):
        return False
    return True


def check_hours_may_change(day: HarvestDay, opens_at: datetime) -> None:
    """Refuse to change the hours of a day that is over or being planned, or the opening of one that has begun."""
    check_day_may_become(day, DayState.PUBLISHED)
    if open_job(day) is not None:
        raise PlanningUnderWay(f"{day} is being planned already.", remedy="Wait for it, or stop it first.")
    if opens_at != day.opens_at and first_started_load(day) is not None:
        raise BadHarvestDay("The day has begun.", remedy="Change only when it closes.")


def check_rest_may_be_planned(day: HarvestDay, now: datetime, standing: Standing | None = None) -> None:
    """Refuse a day that is over, not open yet, without a plan to go on from, or being planned already."""
    standing = standing or Standing(day)
    check_day_may_become(day, DayState.PUBLISHED)
    if standing.published is None:
        raise BadHarvestDay("No plan is published for this day.", remedy="Plan the whole day.")
    if now < day.opens_at and standing.started is None:
        raise BadHarvestDay("Nothing of this day has begun.", remedy="Plan the whole day again.")
    if standing.open_job is not None:
        raise PlanningUnderWay(f"{day} is being planned already.", remedy="Wait for it, or stop it first.")


def can_rest_be_planned(day: HarvestDay, now: datetime, standing: Standing | None = None) -> bool:
    """True when ``check_rest_may_be_planned`` refuses nothing."""
    try:
        check_rest_may_be_planned(day, now, standing)
    except (BadHarvestDay, PlanningUnderWay):
        return False
    return True


def check_may_be_published(job: PlanJob, day: HarvestDay, standing: Standing | None = None) -> None:
    """Refuse a job without a plan, a plan made before another was published, or one for a day under way."""
    check_day_may_become(day, DayState.PUBLISHED)
    if not job.has_plan or job.state not in (JobState.FINISHED, JobState.STOPPED):
        raise PlanOutOfDate(
            "This job has no plan to publish.", remedy="Wait until it has finished, or plan again."
        )
    if job.day_version != day.version:
        raise PlanOutOfDate(
            "Another plan was published after this one was made.", remedy="Plan the day again."
        )
    if job.follows_id is None and (standing or Standing(day)).started is not None:
        raise BadHarvestDay("The day is under way.", remedy="Plan the rest of the day instead.")


def can_be_published(job: PlanJob, day: HarvestDay, standing: Standing | None = None) -> bool:
    """True when ``check_may_be_published`` refuses nothing; the judge has the last word."""
    try:
        check_may_be_published(job, day, standing)
    except (BadHarvestDay, PlanOutOfDate):
        return False
    return True
