"""A change as a person makes it: which keys of the day file get which values."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

# Keys that a file may hold only one of: writing the one takes the other away.
_INSTEAD_OF: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("kitchen", "closes"): ("hours",),
    ("kitchen", "hours"): ("opens", "closes"),
    ("station", "hands"): ("hours",),
    ("station", "hours"): ("hands",),
}
# A station is known by its kind, everything else by its id.
_KEY_OF: Mapping[str, str] = {"station": "kind"}


class Deed(StrEnum):
    """What an edit does with its table."""

    WRITE = "write"
    ADD = "add"
    KEEP_ONLY = "keep-only"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One edit of a day file.

    ``table`` is the table's name, ``entries`` the ids of the entries meant, none for a single table such as
    ``kitchen``. ``values`` pairs keys with values as TOML writes them.
    """

    table: str
    entries: tuple[str, ...] = ()
    values: tuple[tuple[str, str], ...] = ()
    deed: Deed = Deed.WRITE

    @property
    def words(self) -> str:
        """``[[batch]] "b3": jar = "pint"; amount = 42``."""
        values = "; ".join(f"{key} = {value}" for key, value in self.values)
        names = ", ".join(f'"{entry}"' for entry in self.entries)
        if self.deed is Deed.ADD:
            return f"a new [[{self.table}]]: {values}"
        if self.deed is Deed.KEEP_ONLY:
            return f"of all [[{self.table}]] only {names}"
        return f"[[{self.table}]] {names}: {values}" if names else f"[{self.table}] {values}"


def edited(tables: Mapping[str, object], edits: Iterable[Edit]) -> dict[str, object]:
    """The tables of a day file with the edits made; the given ones stay as they are.

    ``KeyError`` when an edit names an entry that the file does not have.
    """
    changed: dict[str, object] = copy.deepcopy(dict(tables))
    for edit in edits:
        values = tomllib.loads("\n".join(f"{key} = {value}" for key, value in edit.values))
        if edit.deed is Deed.ADD:
            changed[edit.table] = [*_entries(changed, edit.table), values]
        elif edit.deed is Deed.KEEP_ONLY:
            kept = [one for one in _entries(changed, edit.table) if one["id"] in edit.entries]
            changed[edit.table] = kept
        else:
            for table in _meant(changed, edit):
                _write(edit.table, table, values)
    return changed


def _entries(tables: Mapping[str, object], name: str) -> list[dict[str, object]]:
    found = tables.get(name, [])
    return found if isinstance(found, list) else []


def _meant(tables: dict[str, object], edit: Edit) -> list[dict[str, object]]:
    if not edit.entries:
        table = tables.setdefault(edit.table, {})
        return [table] if isinstance(table, dict) else []
    key = _KEY_OF.get(edit.table, "id")
    by_id = {str(one[key]): one for one in _entries(tables, edit.table)}
    return [by_id[entry] for entry in edit.entries]


def _write(name: str, table: dict[str, object], values: Mapping[str, object]) -> None:
    for key, value in values.items():
        for other in _INSTEAD_OF.get((name, key), ()):
            table.pop(other, None)
        table[key] = value
