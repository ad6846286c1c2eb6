"""The published tables read with nothing but the csv module: what the scheduler's own reading is compared with.

The tables the package was shipped with are always read. With KITCHEN_REFERENCE_DIR set, the folder it names is
read too: the reference the package's copy was taken from.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

from scheduler.tables import PACKAGED_TABLES

HIGHEST_FT = 8000

_reference = os.environ.get("KITCHEN_REFERENCE_DIR")
FOLDERS: tuple[Path, ...] = (PACKAGED_TABLES, *((Path(_reference),) if _reference else ()))

Printed = dict[str, str]


def rows(table: str, folder: Path = PACKAGED_TABLES) -> list[Printed]:
    """Every row of a table, each cell as printed."""
    with (folder / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def upper_ft(row: Printed) -> int:
    """The highest altitude of the row's band that may be used."""
    return int(row["altitude_max_ft"] or HIGHEST_FT)


def family(row: Printed) -> tuple[str, str, str, str]:
    """What a row is looked up by, altitude aside."""
    return row["food_id"], row["method"], row["pack"], row["jar_size"]
