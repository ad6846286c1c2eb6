"""The acid that some foods need in every jar (rule S14)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scheduler.jars import JarSize
from scheduler.measure import in_words
from scheduler.tables import Row, Tables


@dataclass(frozen=True, slots=True, kw_only=True)
class AcidDose:
    """One way to acidify one jar. Where a food lists several doses, any one of them does; none is left out.

    ``unit`` is ``tbsp`` or ``tsp``.
    """

    acid: str
    amount: float
    unit: str
    source: str

    @property
    def words(self) -> str:
        """As the run sheet says it: "1/4 tsp citric acid"."""
        return f"{in_words(self.amount)} {self.unit} {self.acid}"


def read_doses(tables: Tables) -> Mapping[tuple[str, JarSize], tuple[AcidDose, ...]]:
    """The doses of a set of tables, by food and printed jar, in printed order."""
    doses: dict[tuple[str, JarSize], tuple[AcidDose, ...]] = {}
    for row in tables.acidify:
        key = row.text("food_id"), _jar(row)
        doses[key] = (*doses.get(key, ()), _dose(row))
    return doses


def _jar(row: Row) -> JarSize:
    try:
        return JarSize(row.text("jar_size"))
    except ValueError:
        raise row.damaged(f"{row.text('jar_size')!r} is not a jar") from None


def _dose(row: Row) -> AcidDose:
    amount = float(row.number("amount"))
    if not amount:
        raise row.damaged("the amount of acid is 0")
    return AcidDose(acid=row.text("acid"), amount=amount, unit=row.text("unit"), source=row.text("source"))
