"""``python -m tests.mutants``: whether the cases of the judge's tests notice every small change of its code."""

from __future__ import annotations

import sys
import tomllib
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from tests.mutants.cases import Tried, named_cases
from tests.mutants.mutants import mutants_of
from tests.mutants.planting import made_up_cases
from tests.mutants.trial import Outcome, Trial
from tests.mutants.universe import MODULES, source_file

_EQUIVALENT = Path(__file__).with_name("equivalent.toml")
_SEEDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Result:
    """How the mutants of a module fared; ``stale`` are listed as equivalent and are killed or no longer there."""

    mutants: int
    named: int
    made_up: list[Outcome]
    equivalent: int
    survivors: list[Outcome]
    stale: list[str]


def main(argv: Sequence[str]) -> int:
    """Try every mutant and tell; 1 when one survives that is not listed as equivalent, or the list is stale."""
    arguments = _parser().parse_args(argv)
    cases = [*named_cases(), *made_up_cases(arguments.seeds)]
    reasons = _equivalent()
    sys.stdout.write(f"{len(cases)} cases, {sum(one.named for one in cases)} of them named\n")
    faults = 0
    for module in arguments.module or MODULES:
        result = _tried(module, cases, reasons.get(module, {}), arguments.limit)
        faults += len(result.survivors) + len(result.stale)
        for line in _lines(module, result, tell_made_up=arguments.made_up):
            sys.stdout.write(line + "\n")
        sys.stdout.flush()
    return 1 if faults else 0


def _tried(module: str, cases: Sequence[Tried], reasons: dict[str, str], limit: int | None) -> _Result:
    file = source_file(module)
    trial = Trial(module, cases)
    mutants = islice(mutants_of(file.read_text(encoding="utf-8"), str(file)), limit)
    outcomes = [trial.outcome(mutant) for mutant in mutants]
    alive = [one for one in outcomes if one.killed_by is None]
    names = {one.mutant.name for one in alive}
    return _Result(
        mutants=len(outcomes),
        named=sum(one.killed_by is not None and one.killed_by.named for one in outcomes),
        made_up=[one for one in outcomes if one.killed_by is not None and not one.killed_by.named],
        equivalent=len(names & reasons.keys()),
        survivors=[one for one in alive if one.mutant.name not in reasons],
        stale=[] if limit else sorted(reasons.keys() - names),
    )


def _lines(module: str, result: _Result, *, tell_made_up: bool) -> Iterator[str]:
    yield (
        f"{module:15} {result.mutants:5} mutants, {result.named:5} killed by named cases, {len(result.made_up):3} by "
        f"made-up ones, {result.equivalent:3} equivalent, {len(result.survivors):3} survivors"
    )
    yield from (f"  SURVIVES line {one.mutant.line}: {one.mutant.name}" for one in result.survivors)
    yield from (f"  LISTED AS EQUIVALENT AND IS NOT: {name}" for name in result.stale)
    if tell_made_up:
        yield from (f"  made up, line {one.mutant.line}: {one.mutant.name}" for one in result.made_up)


def _equivalent() -> dict[str, dict[str, str]]:
    """The reason of each mutant that changes no verdict, by module and name."""
    listed = tomllib.loads(_EQUIVALENT.read_text(encoding="utf-8"))
    return {
        module: {name: reason for reason, names in by_reason.items() for name in names}
        for module, by_reason in listed.items()
    }


def _parser() -> ArgumentParser:
    parser = ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument(
        "--module", action="append", choices=MODULES, help="this module alone; may be given several times"
    )
    parser.add_argument("--limit", type=int, metavar="N", help="the first N mutants of each module")
    parser.add_argument(
        "--seeds", type=int, default=_SEEDS, metavar="N", help=f"made-up days (default {_SEEDS})"
    )
    parser.add_argument("--made-up", action="store_true", help="tell what only made-up days noticed")
    return parser


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
