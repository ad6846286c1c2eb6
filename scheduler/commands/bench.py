"""``python -m scheduler bench WHAT``: how the planner does, measured."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping, Sequence
from typing import TextIO

from scheduler.commands.arguments import DONE, MISUSED

MEASURES: Mapping[str, str] = {
    "days": "made-up days against simple rules and proven bounds",
    "judged": "odd made-up days with everything there is, each plan judged",
    "osp": "published instances of the Oven Scheduling Problem, with the planner's core",
    "replan": "made-up days planned again after something went otherwise",
    "rota": "rotas of made-up days against proven bounds, and against planning the loads first",
    "staffing": "published staffing instances: how few people can do it",
    "what-if": "whether each proposed change does place what a plan left out",
}
"""Each measurement and what it shows. Its module is ``bench_`` and its name."""


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Run the measurement named first and return its exit status; 2 when there is no such measurement."""
    if argv and argv[0] in ("-h", "--help"):
        out.write(_usage())
        return DONE
    if not argv or argv[0] not in MEASURES:
        err.write(_usage())
        return MISUSED
    module = f"scheduler.commands.bench_{argv[0].replace('-', '_')}"
    measure: Callable[[Sequence[str], TextIO, TextIO], int] = importlib.import_module(module).run
    return measure(argv[1:], out, err)


def _usage() -> str:
    width = max(map(len, MEASURES))
    listed = "".join(f"  {name:{width}}  {what}\n" for name, what in MEASURES.items())
    return f"usage: python -m scheduler bench WHAT ...\n\n{listed}\nEach explains itself with --help.\n"
