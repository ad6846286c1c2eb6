"""Repeatable random numbers for the compiled loops: the same seed gives the same numbers on every machine.

A 64 bit shift register (xorshift); its state is one whole number that is never 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.compiled import compiled_part

Numbers = NDArray[np.int64]

_GOLDEN = 0x9E3779B97F4A7C15
_MIX = 0xBF58476D1CE4E5B9
_LOW_64 = (1 << 64) - 1


def seeded(seed: int) -> Numbers:
    """The state for a seed, well stirred so that neighbouring seeds have nothing in common."""
    state = (seed + 1) * _GOLDEN & _LOW_64
    state = (state ^ state >> 30) * _MIX & _LOW_64
    state = (state ^ state >> 31) & _LOW_64 or _GOLDEN
    return np.array([state - (1 << 64) if state >> 63 else state], dtype=np.int64)


@compiled_part
def below(state: Numbers, end: int) -> int:
    """A whole number from 0 up to, not including, ``end``, which is at least 1 and below 2 to the 31st."""
    return ((_next(state) >> 20) & 0x7FFFFFFF) * end >> 31


@compiled_part
def share(state: Numbers) -> float:
    """A number from 0 up to, not including, 1."""
    return ((_next(state) >> 11) & 0x1FFFFFFFFFFFFF) * (1.0 / 9007199254740992.0)


@compiled_part
def _next(state: Numbers) -> int:
    bits: int = state[0]
    bits ^= bits << 13
    bits ^= (bits >> 7) & 0x01FFFFFFFFFFFFFF
    bits ^= bits << 17
    state[0] = bits
    return bits
