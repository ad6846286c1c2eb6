"""Why jars were left out, in words a lead can act on."""

from __future__ import annotations

from scheduler.plan import LeftOut
from scheduler.problem import Batch, Day
from scheduler.search.options import Option, Options
from scheduler.search.placed import Decoded
from scheduler.work import prep_minutes


def left_out(
    day: Day, options: Options, decoded: Decoded, given_up: frozenset[int] = frozenset()
) -> tuple[LeftOut, ...]:
    """One entry for each batch with jars that found no place; ``given_up`` are those nobody is free for."""
    return tuple(
        _say(day.batches[number], jars, "nobody-free", _NOBODY_FREE, "What-if looks for who would be enough.")
        if number in given_up
        else _reason(day, day.batches[number], options, number, jars)
        for number, jars in enumerate(decoded.left)
        if jars
    )


_NOBODY_FREE = (
    "There is a canner for it, but nobody free for all of its work who would not go without a rest."
)


def _reason(day: Day, batch: Batch, options: Options, number: int, jars: int) -> LeftOut:
    row = options.by_batch[number]
    missing = _missing(day, batch, options, number, jars)
    if missing is not None:
        return missing
    return _too_late(day, batch, row, jars) or _say(
        batch,
        jars,
        "day-full",
        f"{_canners(day, row)}: no place was found with canner, burner, hands, a trained person and table space all "
        "free.",
        "What-if looks for a change that would place it.",
    )


def _missing(day: Day, batch: Batch, options: Options, number: int, jars: int) -> LeftOut | None:
    """What the kitchen lacks for this batch, whatever else it cans."""
    if not options.by_batch[number]:
        why = "; ".join(options.refusals[number]) or "The kitchen has no canner."
        return _say(
            batch, jars, "no-process", why, "Choose another pack, jar or canner, or mend what is named here."
        )
    if not any(person.may_watch for person in day.people):
        return _say(
            batch,
            jars,
            "nobody-trained",
            "Nobody trained to run a canner is on the rota (rule S9).",
            "Ask someone trained to come.",
        )
    if batch.kettle_minutes and not day.kettles:
        return _say(
            batch,
            jars,
            "no-kettle",
            "A hot pack is cooked first, and no kettle is listed.",
            "List a kettle, or pack raw.",
        )
    return None


def _too_late(day: Day, batch: Batch, row: tuple[Option, ...], jars: int) -> LeftOut | None:
    """That the batch comes too late to be out in time, with the whole kitchen to itself."""
    shortest = min(row, key=lambda option: option.minutes)
    chain = _chain(day, batch, shortest)
    last = day.horizon - chain
    if batch.arrival > last:
        return _say(
            batch,
            jars,
            "arrives-too-late",
            f"From arrival to jars out takes at least {chain} minutes, and the kitchen closes before that.",
            f"Arrive {batch.arrival - last} minutes earlier, or come on another day.",
        )
    cut_off = day.policy.meat_cut_off
    if batch.meat_or_fish and cut_off is not None and batch.arrival + chain > cut_off:
        return _say(
            batch,
            jars,
            "meat-cut-off",
            f"Meat and fish must be out by the cut-off (rule S15); the work takes {chain} minutes or more.",
            f"Arrive {batch.arrival + chain - cut_off} minutes earlier, or come on another day.",
        )
    return None


def _chain(day: Day, batch: Batch, option: Option) -> int:
    prep = prep_minutes(batch.prep_person_minutes_per_jar, 1, day.policy.prep_hands)
    return prep + batch.kettle_minutes + option.minutes


def _canners(day: Day, row: tuple[Option, ...]) -> str:
    return ", ".join(dict.fromkeys(day.canners[option.canner].name for option in row))


def _say(batch: Batch, jars: int, code: str, reason: str, remedy: str) -> LeftOut:
    return LeftOut(batch_id=batch.id, jars=jars, code=code, reason=reason, remedy=remedy)
