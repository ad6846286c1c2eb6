"""Kinds of canner, and which of them work under pressure."""

from __future__ import annotations

from enum import StrEnum


class CannerKind(StrEnum):
    """What heats the jars. The value is the spelling used in files, addresses and on the command line."""

    DIAL = "dial"
    WEIGHTED = "weighted"
    BOILING_WATER = "boiling-water"
    STEAM = "steam"

    @property
    def is_pressure(self) -> bool:
        """True for the two kinds that hold steam under pressure, the only ones for low-acid food (rule S7)."""
        return self in (CannerKind.DIAL, CannerKind.WEIGHTED)

    @property
    def words(self) -> str:
        """The kind as a person would say it."""
        return _WORDS[self]


_WORDS: dict[CannerKind, str] = {
    CannerKind.DIAL: "dial-gauge pressure canner",
    CannerKind.WEIGHTED: "weighted-gauge pressure canner",
    CannerKind.BOILING_WATER: "boiling-water canner",
    CannerKind.STEAM: "atmospheric steam canner",
}
