"""``python -m scheduler bench osp DIR``: the planner's core on published instances that nobody here wrote.

DIR holds instances of the Oven Scheduling Problem (see ``scheduler.oven_file``) in any folders, and may hold a
``best_known.csv`` with the columns ``file``, ``best_known`` and ``published_best``. Every schedule is looked at again
by ``scheduler.core.check``, which shares nothing with the search.
"""

from __future__ import annotations

import csv
import json
import os
import time
from argparse import ArgumentTypeError
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, Arguments, answer_refusal, read_arguments
from scheduler.commands.plan import seconds
from scheduler.core.check import cost_of, faults_of
from scheduler.core.question import Answer, Question
from scheduler.core.solve import Budget, make_ready, solve
from scheduler.errors import BadDay
from scheduler.oven_file import read_oven_file

_MOST_WORKERS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What is printed about an instance: the best objective known, and the best that was published."""

    best: int | None = None
    published: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """One instance with our answer."""

    name: str
    answer: Answer
    normaliser: int
    known: _Known
    elapsed_seconds: float

    @property
    def ratio(self) -> float | None:
        """Our objective as a share of the best known one."""
        return None if self.known.best is None else self.answer.cost / self.known.best


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each instance and the means last; 1 when a schedule breaks a rule of its instance."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    folder = Path(arguments.folder)
    try:
        solved = _solve_all(folder, arguments.seconds, arguments.workers, arguments.seed, arguments.out, out)
    except BadDay as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    faults = [f"{name}: {fault}\n" for name, fault in solved]
    err.write("".join(faults))
    return REFUSED if faults else DONE


def _solve_all(
    folder: Path, limit_seconds: float, workers: int, seed: int, written: str | None, out: TextIO
) -> list[tuple[str, str]]:
    """Solve every instance; returns what is wrong with the schedules."""
    known = _known(folder / "best_known.csv")
    names = [name for name in known if (folder / name).is_file()]
    names += sorted({str(path.relative_to(folder)) for path in folder.rglob("*.dzn")} - set(names))
    if not names:
        raise BadDay(f"{folder} holds no instance (*.dzn).", remedy="Name the folder that holds them.")
    make_ready()
    rows: list[_Solved] = []
    faults: list[tuple[str, str]] = []
    for name in names:
        oven = read_oven_file(folder / name)
        begun = time.monotonic()
        budget = Budget(limit_seconds)
        answer = solve(oven.question, budget=budget, workers=workers, seed=seed)
        row = _Solved(
            name=name,
            answer=answer,
            normaliser=oven.normaliser,
            known=known.get(name, _Known()),
            elapsed_seconds=time.monotonic() - begun,
        )
        rows.append(row)
        faults += [(name, fault) for fault in _faults(oven.question, answer)]
        out.write(_line(row) + "\n")
        out.flush()
        if written is not None:
            _write(Path(written), name, answer)
    out.writelines(f"{line}\n" for line in _summary(rows))
    return faults


def _faults(question: Question, answer: Answer) -> Iterator[str]:
    yield from faults_of(question, answer.batches)
    again = cost_of(question, answer.batches)
    if again != answer.cost:
        yield f"the objective is {again}, not {answer.cost}"
    if answer.bound > answer.cost:
        yield f"the bound {answer.bound} is above the objective"


def _line(row: _Solved) -> str:
    ratio = "-" if row.ratio is None else f"{row.ratio:.5f}"
    below = row.known.published is not None and row.answer.cost < row.known.published
    return (
        f"{row.name:<75} objective {row.answer.cost:>10} ({row.answer.cost / row.normaliser:.6f})  ratio {ratio:>8}  "
        f"bound {row.answer.bound:>10}  gap {row.answer.gap:7.2%}  {row.elapsed_seconds:5.1f} s  "
        f"{'proved' if row.answer.gap == 0 else row.answer.bound_name}{'  below the published best' if below else ''}"
    )


def _summary(rows: Sequence[_Solved]) -> Iterator[str]:
    proved = sum(row.answer.gap == 0 for row in rows)
    below = sum(row.known.published is not None and row.answer.cost < row.known.published for row in rows)
    yield f"{len(rows)} instances, {proved} proved best, {below} below the published best"
    ratios = [row.ratio for row in rows if row.ratio is not None]
    if ratios:
        yield f"largest ratio to the best known: {max(ratios):.5f}"
    yield f"mean gap to the proven bound: {sum(row.answer.gap for row in rows) / len(rows):.2%}"
    if ratios:
        yield f"mean ratio to the best known: {sum(ratios) / len(ratios):.5f}"


def _known(path: Path) -> dict[str, _Known]:
    if not path.is_file():
        return {}
    with path.open(encoding="utf-8", newline="") as lines:
        return {
            row["file"]: _Known(
                best=_number(row.get("best_known")), published=_number(row.get("published_best"))
            )
            for row in csv.DictReader(lines)
            if row.get("file")
        }


def _number(text: str | None) -> int | None:
    return int(text) if text and text.isdecimal() else None


def _write(folder: Path, name: str, answer: Answer) -> None:
    """One schedule as JSON; machines and jobs count from 1."""
    path = folder / Path(name).with_suffix(".json")
    path.parent.mkdir(parents=True, exist_ok=True)
    schedule = {
        "instance": name,
        "objective": answer.cost,
        "batches": [
            {
                "machine": batch.machine + 1,
                "start": batch.start,
                "duration": batch.minutes,
                "jobs": [job + 1 for job in batch.jobs],
            }
            for batch in answer.batches
        ],
    }
    path.write_text(json.dumps(schedule, indent=1) + "\n", encoding="utf-8")


def _workers(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_WORKERS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_WORKERS}")
    return int(text)


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise ArgumentTypeError(f"{text!r} is not a whole number")
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler bench osp",
        description="Measure the planner's core on published instances of the Oven Scheduling Problem.",
    )
    parser.add_argument(
        "folder", metavar="DIR", help="the folder of instances (*.dzn), perhaps with a best_known.csv"
    )
    parser.add_argument(
        "--seconds", type=seconds, default=10.0, metavar="N", help="for an instance (default 10)"
    )
    parser.add_argument(
        "--workers",
        type=_workers,
        default=os.cpu_count() or 1,
        metavar="N",
        help="threads (default: one per core)",
    )
    parser.add_argument(
        "--seed", type=_seed, default=1, metavar="N", help="of the random numbers (default 1)"
    )
    parser.add_argument("--out", metavar="DIR", help="write each schedule there as JSON")
    return parser
