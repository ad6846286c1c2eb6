"""What belongs together belongs to one kitchen, and the database holds it, on both databases.

Every way in looks for rows within its own kitchen. Should one ever not, these triggers refuse the row: a load on
another kitchen's canner, a slot for another's batch. A row's own kitchen never changes.

The triggers are laid after every ``migrate`` and lifted before it: on SQLite a migration that alters a table builds it
anew, without its triggers, and stumbles over those of others that name it. Their names carry a digest of what they
say, so a change of it here needs no migration.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256

from django.apps import apps
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.utils import CursorWrapper
from django.db.models import ForeignKey, Model
from django.db.models.signals import post_migrate, pre_migrate

PREFIX = "one_kitchen_"
_KITCHEN = "kitchen"
_OF_LOAD, _OF_PORTION = "load__harvest_day__kitchen", "portion__load__harvest_day__kitchen"


@dataclass(frozen=True, slots=True)
class Tie:
    """``home`` leads from a row of the model to its kitchen; each of ``others`` must lead to the same, or to none."""

    of: str
    home: str
    others: tuple[str, ...]

    @property
    def model(self) -> type[Model]:
        """The model whose rows are held."""
        return apps.get_model(self.of)


TIES = (
    Tie("equipment.Canner", _KITCHEN, ("burner__kitchen",)),
    Tie("equipment.Kettle", _KITCHEN, ("burner__kitchen",)),
    Tie("equipment.CannerTime", _KITCHEN, ("canner__kitchen",)),
    Tie("helping.Wishes", "membership__kitchen", ("comes_with__kitchen",)),
    Tie("batches.Batch", _KITCHEN, ("harvest_day__kitchen",)),
    Tie("batches.Slot", _KITCHEN, ("canner_time__kitchen", "batch__kitchen")),
    Tie("batches.SlotStand", "slot__kitchen", ("cooling_table__kitchen",)),
    Tie("learning.MeasuredTime", _KITCHEN, ("canner__kitchen", _OF_LOAD, "batch__kitchen")),
    Tie("planning.PlanJob", "harvest_day__kitchen", ("follows__harvest_day__kitchen",)),
    Tie(
        "planning.Load",
        "harvest_day__kitchen",
        ("canner__kitchen", "canner_time__kitchen", "slot__kitchen", "cooling_table__kitchen"),
    ),
    Tie("planning.LoadPortion", _OF_LOAD, ("batch__kitchen",)),
    Tie("planning.LeftOut", "harvest_day__kitchen", ("batch__kitchen",)),
    Tie("rota.Shift", "harvest_day__kitchen", (_OF_LOAD,)),
    Tie("rota.SwapOffer", "shift__harvest_day__kitchen", ("wants__harvest_day__kitchen",)),
    Tie("reminders.Reminder", _KITCHEN, (_OF_PORTION, "went_with__kitchen")),
    Tie("seals.SealCheck", _OF_PORTION, (f"corrects__{_OF_PORTION}",)),
    Tie("floor.RunEvent", _OF_LOAD, (f"corrects__{_OF_LOAD}",)),
    Tie("booking.Hold", _KITCHEN, ("canner_time__kitchen", "replaces__kitchen", "slot__kitchen")),
    Tie("calendars.Feed", _KITCHEN, ("canner__kitchen",)),
    Tie("hooks.Telling", "hook__kitchen", ("reminder__kitchen",)),
    Tie("labels.Reprocess", f"offer__{_OF_PORTION}", (_OF_PORTION,)),
    Tie("records.RecordSignature", _OF_LOAD, (f"last_line__{_OF_LOAD}",)),
    Tie("reprocess.ReprocessBooking", f"offer__{_OF_PORTION}", ("batch__kitchen",)),
)


@dataclass(frozen=True, slots=True)
class Trigger:
    """One trigger: before which change of which table, when it refuses, and what it says then."""

    table: str
    change: str
    condition: str
    refusal: str

    @property
    def name(self) -> str:
        """A name for this text alone, short enough for either database."""
        digest = sha256(repr((self.table, self.change, self.condition, self.refusal)).encode()).hexdigest()
        return f"{PREFIX}{digest[:16]}"


def triggers() -> Iterator[Trigger]:
    """Everything that the database is to refuse."""
    for tie in TIES:
        table, home = tie.model._meta.db_table, _leads(tie.model, tie.home)
        first = {_column(tie.model, path) for path in (tie.home, *tie.others)}
        apart = " OR ".join(
            f"(NEW.{_column(tie.model, path)} IS NOT NULL AND {home} <> {_leads(tie.model, path)})"
            for path in tie.others
        )
        for change in ("INSERT", f"UPDATE OF {', '.join(sorted(first))}"):
            yield Trigger(table, change, apart, f"{table}: what belongs together is of one kitchen")
    for model in apps.get_models():
        if any(field.name == _KITCHEN for field in model._meta.concrete_fields):
            table = model._meta.db_table
            moved = "NEW.kitchen_id <> OLD.kitchen_id"
            yield Trigger(table, "UPDATE OF kitchen_id", moved, f"{table}: a row stays in its kitchen")


def lay(*, using: str, **_: object) -> None:
    """Lay what is missing and lift what is not wanted any more, in this database."""
    connection, wanted = connections[using], {one.name: one for one in triggers()}
    with connection.cursor() as cursor:
        found = laid(connection)
        for name in sorted(found.keys() - wanted.keys()):
            _lift(cursor, connection, name, found[name])
        for name in sorted(wanted.keys() - found.keys()):
            _lay(cursor, connection, wanted[name])


def lift(*, using: str, **_: object) -> None:
    """Lift them all, before tables are altered."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for name, table in sorted(laid(connection).items()):
            _lift(cursor, connection, name, table)


def laid(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The names of the triggers that stand, each with its table."""
    if connection.vendor == "postgresql":
        query = "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE starts_with(tgname, %s)"
    else:
        query = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' AND instr(name, %s) = 1"
    with connection.cursor() as cursor:
        cursor.execute(query, [PREFIX])
        return dict(cursor.fetchall())


def watch_migrations() -> None:
    """Have the triggers lifted before tables are altered and laid afterwards, once for all apps."""
    members = apps.get_app_config("members")
    pre_migrate.connect(lift, sender=members, dispatch_uid="kitchen.one_kitchen.lift")
    post_migrate.connect(lay, sender=members, dispatch_uid="kitchen.one_kitchen.lay")


def _lay(cursor: CursorWrapper, connection: BaseDatabaseWrapper, one: Trigger) -> None:
    # Names and conditions stand above or come from the models; nothing of it comes from outside.
    if connection.vendor != "postgresql":
        cursor.execute(
            f"CREATE TRIGGER {one.name} BEFORE {one.change} ON {one.table} FOR EACH ROW "
            f"WHEN {one.condition} BEGIN SELECT RAISE(ABORT, '{one.refusal}'); END"
        )
        return
    cursor.execute(
        f"CREATE OR REPLACE FUNCTION {one.name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {one.condition} THEN RAISE EXCEPTION '{one.refusal}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$"
    )
    cursor.execute(
        f"CREATE TRIGGER {one.name} BEFORE {one.change} ON {one.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {one.name}()"
    )


def _lift(cursor: CursorWrapper, connection: BaseDatabaseWrapper, name: str, table: str) -> None:
    if connection.vendor == "postgresql":
        cursor.execute(f"DROP TRIGGER {name} ON {table}")
        cursor.execute(f"DROP FUNCTION {name}()")
    else:
        cursor.execute(f"DROP TRIGGER {name}")


def _column(model: type[Model], path: str) -> str:
    return _key(model, path.split("__")[0]).column


def _leads(model: type[Model], path: str) -> str:
    """The kitchen's key at the end of a path that begins at the row which is written."""
    first, *rest = (*_steps(model, path),)
    if not rest:
        return f"NEW.{first.column}"
    joins = f"{rest[0].model._meta.db_table} t0"
    for number, step in enumerate(rest[:-1]):
        joins += f" JOIN {step.related_model._meta.db_table} t{number + 1}"
        joins += f" ON t{number + 1}.id = t{number}.{step.column}"
    end = f"t{len(rest) - 1}.{rest[-1].column}"
    return f"(SELECT {end} FROM {joins} WHERE t0.id = NEW.{first.column})"  # noqa: S608  (names of the models' own)


def _steps(model: type[Model], path: str) -> Iterator[ForeignKey[Model, Model]]:
    for name in path.split("__"):
        step = _key(model, name)
        yield step
        model = step.related_model


def _key(model: type[Model], name: str) -> ForeignKey[Model, Model]:
    field = model._meta.get_field(name)
    if not isinstance(field, ForeignKey):
        raise TypeError(f"{model._meta.label}.{name} leads nowhere.")
    return field
