"""What a page shows of a plan. A plan that is made never changes, so it is put into words once, and kept."""

from __future__ import annotations

from functools import cache

from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from pydantic import TypeAdapter

from kitchen.harvest.bridge import Difference, PlanPicture, chart_of, difference_of, picture_of, sections_of
from kitchen.harvest.keeping_pages import kept_of, rota_difference, told_of
from kitchen.language.pieces import kept_piece, kept_text
from kitchen.language.said import said
from kitchen.planning.models import HarvestDay, PlanJob


def plan_picture(job: PlanJob | None) -> PlanPicture | None:
    """The plan of a job in words; None without one. Neither question nor plan is read once it is kept."""
    if job is None or not job.has_plan:
        return None

    def write() -> str:
        return _pictures().dump_json(picture_of(job.day, job.plan)).decode()

    return _pictures().validate_json(kept_text("plan", _name(job), write))


def plan_tables(job: PlanJob | None, day: HarvestDay) -> SafeString:
    """The same as tables; nothing without a plan."""
    if job is None or not job.has_plan:
        return SafeString()
    return kept_piece(
        "harvest/tables.html",
        _name(job),
        lambda: {"sections": sections_of(job.day, job.plan)},
        day.kitchen.zone,
    )


def plan_chart(job: PlanJob) -> str:
    """A plan as a picture, in the reader's language."""
    return kept_text("chart", _name(job), lambda: chart_of(job.day, job.plan, said))


def plan_changes(job: PlanJob | None, before: PlanJob | None, day: HarvestDay) -> SafeString:
    """What a plan that is not published yet would change in the published one ``before``; nothing without one."""
    if job is None or before is None or job.published_at is not None or not job.has_plan:
        return SafeString()

    def changes() -> Difference:
        if job.is_of_rota:
            return rota_difference(job)
        return difference_of(before.day, before.plan, job.day, job.plan)

    return kept_piece(
        "harvest/difference.html",
        (_name(before), _name(job)),
        lambda: {"difference": changes()},
        day.kitchen.zone,
    )


def drawn_piece(job: PlanJob, day: HarvestDay) -> SafeString:
    """Of a rota drawn up again whom it keeps, how fair it is, and what changes for whom."""
    made = job.has_plan

    def shown() -> dict[str, object]:
        changes = rota_difference(job).people if made else ()
        return {"made": made, "kept": kept_of(job), "told": told_of(job), "changes": changes}

    if not made:  # It may have no question either, and is then told from the day as it is.
        return render_to_string("harvest/drawn_rota.html", shown())
    return kept_piece("harvest/drawn_rota.html", _name(job), shown, day.kitchen.zone)


def _name(job: PlanJob) -> tuple[str, str]:
    """A job writes its question and its plan once, when it is through."""
    return str(job.uuid), str(job.finished_at)


@cache
def _pictures() -> TypeAdapter[PlanPicture]:
    return TypeAdapter(PlanPicture)
