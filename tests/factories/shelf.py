"""Jars on the shelf: beans out and counted, and as many lots beside them as a test wants."""

from __future__ import annotations

from datetime import timedelta

from kitchen.planning.models import Load, LoadPortion, LoadState
from kitchen.seals.actions import record_seal_check
from kitchen.seals.models import SealCheck
from tests.factories.canner_runs import BEANS_OUT, Run, make_beans_out
from tests.factories.sites import Site, declare, make_site


def count_seals(run: Run, *, sealed: int = 7, unsealed: int = 0, correct: bool = False) -> SealCheck:
    """The member counts a day after the jars are out."""
    at = run.at(BEANS_OUT) + timedelta(hours=20)
    return record_seal_check(
        portion=run.portion,
        sealed=sealed,
        unsealed=unsealed,
        broken=7 - sealed - unsealed,
        by=run.site.member,
        at=at,
        now=at,
        correct=correct,
    ).check


def make_shelf(site: Site | None = None, *, sealed: int = 7) -> Run:
    """Seven quarts of beans, out without a fault and counted."""
    run = make_beans_out(site or make_site())
    count_seals(run, sealed=sealed)
    return run


def add_lots(run: Run, many: int) -> list[LoadPortion]:
    """So many further lots of the member, each in a load of its own, counted and sealed."""
    made = []
    for number in range(2, many + 2):
        load = Load.objects.create(
            harvest_day=run.day,
            canner=run.site.weighted,
            number=number,
            lot_code=f"{run.load.lot_code[:-1]}{number}",
            method="pressure_weighted",
            pressure_psi=15,
            target_reading_psi=15,
            process_minutes=25,
            state=LoadState.CLOSED,
            process_ended_at=run.at(60 * number),
            jars_out_at=run.at(60 * number + 60),
        )
        batch = declare(run.site, run.day)
        portion = LoadPortion.objects.create(
            load=load, batch=batch, jars=7, process_key=run.portion.process_key, headspace_in=1
        )
        SealCheck.objects.create(
            portion=portion,
            sealed=7,
            unsealed=0,
            broken=0,
            checked_by=run.site.member,
            checked_at=run.at(60 * number + 60 * 15),
        )
        made.append(portion)
    return made
