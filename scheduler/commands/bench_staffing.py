"""``python -m scheduler bench staffing DIR``: how few people can do it, on published instances that nobody here wrote.

DIR holds staffing instances (see ``scheduler.staffing_file``) in any folders; it or the folder above may hold a
``best_known.csv`` with the columns ``file`` and ``best_known``. Every answer is looked at again by
``scheduler.rota.fewest_check``, which shares nothing with the search.
"""

from __future__ import annotations

import csv
import json
import time
from argparse import ArgumentTypeError
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from scheduler.commands.arguments import DONE, REFUSED, Arguments, answer_refusal, read_arguments
from scheduler.commands.plan import seconds
from scheduler.errors import BadRota
from scheduler.rota.fewest import Fewest, fewest_people
from scheduler.rota.fewest_check import faults_of
from scheduler.staffing_file import read_staffing_file

_MOST_WORKERS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    """One instance with our answer and the best that is known, if any."""

    name: str
    answer: Fewest
    best: int | None
    elapsed_seconds: float

    @property
    def ratio(self) -> float | None:
        """Our people as a share of the fewest known."""
        return None if self.best is None else self.answer.people / self.best


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print a line for each instance and the mean last; 1 when an answer breaks a rule of its instance."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    folder = Path(arguments.folder)
    faults: list[str] = []
    rows: list[_Solved] = []
    try:
        known = _known(folder)
        for path in _instances(folder):
            question = read_staffing_file(path)
            begun = time.monotonic()
            answer = fewest_people(
                question,
                seconds=arguments.seconds,
                seed=arguments.seed,
                workers=arguments.workers,
                clock=time.monotonic,
            )
            name = str(path.relative_to(folder))
            rows.append(
                _Solved(
                    name=name, answer=answer, best=known.get(path), elapsed_seconds=time.monotonic() - begun
                )
            )
            faults += [f"{name}: {fault}\n" for fault in faults_of(question, answer.taken, answer.people)]
            out.write(_line(rows[-1]) + "\n")
            out.flush()
            if arguments.out is not None:
                _write(Path(arguments.out), rows[-1])
    except BadRota as refusal:
        return answer_refusal(refusal, as_json=False, out=out, err=err)
    out.write(_summary(rows) + "\n")
    err.write("".join(faults))
    return REFUSED if faults else DONE


def _instances(folder: Path) -> list[Path]:
    found = sorted(folder.rglob("*.dat"))
    if not found:
        raise BadRota(f"{folder} holds no instance (*.dat).", remedy="Name the folder that holds them.")
    return found


def _known(folder: Path) -> Mapping[Path, int]:
    """The fewest people known, by the instance's path."""
    for home in (folder, folder.parent):
        listed = home / "best_known.csv"
        if listed.is_file():
            with listed.open(encoding="utf-8", newline="") as rows:
                return {home / row["file"]: int(row["best_known"]) for row in csv.DictReader(rows)}
    return {}


def _line(row: _Solved) -> str:
    answer = row.answer
    best = "-" if row.best is None else str(row.best)
    ratio = "-" if row.ratio is None else f"{row.ratio:.4f}"
    return (
        f"{row.name:48} people {answer.people:4}  best known {best:>4}  ratio {ratio:>6}  bound {answer.bound:4} "
        f"({answer.bound_name}){' proved' if answer.is_proved else ''}  {row.elapsed_seconds:.1f} s"
    )


def _summary(rows: Sequence[_Solved]) -> str:
    ratios = [row.ratio for row in rows if row.ratio is not None]
    proved = sum(row.answer.is_proved for row in rows)
    if not ratios:
        return f"{len(rows)} instances, {proved} proved"
    above = max(row.answer.people - row.best for row in rows if row.best is not None)
    return (
        f"{len(rows)} instances, {proved} proved; mean ratio to best known {sum(ratios) / len(ratios):.4f}, at most "
        f"{max(above, 0)} people above it"
    )


def _write(folder: Path, row: _Solved) -> None:
    path = (folder / row.name).with_suffix(".json")
    path.parent.mkdir(parents=True, exist_ok=True)
    written = {"instance": row.name, "people": row.answer.people, "person_of_task": list(row.answer.taken)}
    path.write_text(json.dumps(written) + "\n", encoding="utf-8")


def _workers(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_WORKERS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_WORKERS}")
    return int(text)


def _parser() -> Arguments:
    parser = Arguments(
        prog="python -m scheduler bench staffing",
        description="Find the fewest people for published staffing instances; every answer is checked again.",
    )
    parser.add_argument("folder", metavar="DIR", help="a folder of instances (*.dat)")
    parser.add_argument(
        "--seconds", type=seconds, default=60.0, metavar="N", help="time for each instance (default 60)"
    )
    parser.add_argument(
        "--workers", type=_workers, default=2, metavar="N", help="searches side by side (default 2)"
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="seed of the search (default 1)")
    parser.add_argument("--out", metavar="DIR", help="write each answer there as JSON")
    return parser
