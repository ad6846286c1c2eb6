"""``python -m scheduler process``: the published process for a food, a pack, a jar, a canner and an altitude."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from textwrap import fill
from typing import TextIO

from scheduler.canner_kind import CannerKind
from scheduler.caution import CAUTION
from scheduler.commands.arguments import (
    DONE,
    Arguments,
    answer_refusal,
    one_of,
    read_arguments,
)
from scheduler.errors import SchedulerError
from scheduler.foods import find_food
from scheduler.jars import JarSize, Pack
from scheduler.process import UNSTERILISED_FROM_MINUTES, Process, find_processes


def run(argv: Sequence[str], out: TextIO, err: TextIO) -> int:
    """Print every published line, as text or as JSON. 0 when there is one, 1 when refused, 2 on wrong usage."""
    arguments = read_arguments(_parser(), argv, out, err)
    if isinstance(arguments, int):
        return arguments
    pack: Pack = arguments.pack
    jar: JarSize = arguments.jar
    kind: CannerKind = arguments.gauge
    try:
        food = find_food(arguments.food)
        lines = find_processes(food.id, pack, jar, kind, arguments.altitude)
    except SchedulerError as refusal:
        return answer_refusal(refusal, as_json=arguments.json, out=out, err=err)
    if arguments.json:
        answer = {"food": food.id, "lines": [line_object(line) for line in lines]}
        out.write(json.dumps(answer, indent=2) + "\n")
    else:
        heading = f"{food.name}, {pack} pack, {jar.words} jars, {kind.words}, {arguments.altitude:g} ft"
        out.write(
            "\n\n".join([heading, *_remarks(jar, lines), *map(_paragraph, lines), fill(CAUTION, 100)]) + "\n"
        )
    return DONE


def line_object(line: Process) -> dict[str, object]:
    """One printed line for a machine. ``schedulable`` is without any lead's confirmation."""
    return {
        "method": str(line.method),
        "pressure_psi": line.pressure_psi,
        "process_minutes": line.process_minutes,
        "headspace_in": line.headspace_in,
        "sterilise_jars": line.sterilise_jars,
        "acid": [{"acid": dose.acid, "amount": dose.amount, "unit": dose.unit} for dose in line.acid],
        "confidence": str(line.confidence),
        "schedulable": line.schedulable(),
        "source": line.source,
    }


def _parser() -> Arguments:
    parser = Arguments(prog="python -m scheduler process", description="Look up a published, tested process.")
    parser.add_argument("food", help="its id or printed name; 'python -m scheduler foods' lists both")
    parser.add_argument("--pack", type=one_of(Pack), required=True, metavar="PACK", help=", ".join(Pack))
    parser.add_argument("--jar", type=one_of(JarSize), required=True, metavar="JAR", help=", ".join(JarSize))
    parser.add_argument(
        "--gauge", type=one_of(CannerKind), required=True, metavar="GAUGE", help=", ".join(CannerKind)
    )
    parser.add_argument(
        "--altitude", type=float, required=True, metavar="FEET", help="of the kitchen, 0 to 8000"
    )
    parser.add_argument("--json", action="store_true", help="print an object instead of text")
    return parser


def _remarks(jar: JarSize, lines: Sequence[Process]) -> Iterator[str]:
    printed = lines[0].jar
    if printed is not jar:
        yield f"Nothing is printed for {jar.words} jars: they take the process of the {printed.words} (rule S1)."
    if len(lines) > 1:
        yield "The lines are alternatives. Take one whole: never one's time with another's pressure (rule S3)."


def _paragraph(line: Process) -> str:
    return "\n  ".join([line.words, *_details(line)])


def _details(line: Process) -> Iterator[str]:
    yield f"headspace {line.headspace_words}"
    if line.sterilise_jars:
        yield f"sterilise the jars first: the process is under {UNSTERILISED_FROM_MINUTES} min (rule S14)"
    if line.acid:
        yield f"in each jar: {' or '.join(dose.words for dose in line.acid)}"
    yield f"confidence {line.confidence}, {line.confidence.words}"
    yield f"source: {line.source}"
    yield f"row: {line.key}"
