"""The options that measurements on made-up days share."""

from __future__ import annotations

from argparse import ArgumentTypeError

from scheduler.commands.arguments import Arguments, one_of
from scheduler.commands.plan import seconds
from scheduler.generator import Size

_MOST_SEEDS = 1000


def made_up_days(name: str, what: str) -> Arguments:
    """A parser for size, seeds and seconds; ``what`` says what is measured."""
    parser = Arguments(
        prog=f"python -m scheduler bench {name}",
        description=f"{what} S: 6 batches, 2 canners; M: 20 and 6; L: 60 and 12; XL: 200 and 20 over three days.",
    )
    parser.add_argument(
        "--size", type=one_of(Size), default=Size.M, metavar="SIZE", help="S, M, L or XL (default M)"
    )
    parser.add_argument(
        "--seeds", type=_seeds, default=3, metavar="N", help="days with seeds 1 to N (default 3)"
    )
    parser.add_argument(
        "--seconds",
        type=seconds,
        default=10.0,
        metavar="N",
        help="effort and time limit for a plan (default 10)",
    )
    return parser


def _seeds(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= _MOST_SEEDS:
        raise ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_SEEDS}")
    return int(text)
