"""The lists of a shelf, written once for each state of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.safestring import SafeString

from kitchen.batches.models import Jar
from kitchen.labels.pages import Row, shelf_of
from kitchen.labels.shelf import Shelved, lots_shelved
from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen


def shelf_piece(kitchen: Kitchen, shelved: Sequence[Shelved], today: date, *, whole: bool) -> SafeString:
    """What is on hold, what to use first and what waits to be counted; whose it is where it is everybody's."""

    def lists() -> dict[str, object]:
        shelf = shelf_of(lots_shelved(kitchen, shelved), today)
        return {
            "slug": kitchen.slug,
            "whole": whole,
            "jars": shelf.jars,
            "held": [_held(row) for row in shelf.on_hold],
            "ready": [_ready(row) for row in shelf.ready],
            "to_count": [_to_count(row) for row in shelf.to_count],
        }

    facts = (kitchen.slug, kitchen.best_by_months, today, whole, shelved)
    return kept_piece("labels/lists.html", facts, lists, kitchen.zone)


def _ready(row: Row) -> tuple[object, ...]:
    return (row.best_by, row.past, row.lot.on_hand, row.lot.sealed, *_of(row))


def _held(row: Row) -> tuple[object, ...]:
    return (row.lot.portion.jars, row.lot.load.deviation, *_of(row))


def _to_count(row: Row) -> tuple[object, ...]:
    return (row.lot.portion.jars, row.lot.portion.uuid, *_of(row))


def _of(row: Row) -> tuple[object, ...]:
    batch = row.lot.portion.batch
    return (batch.food_name, Jar(batch.jar).label, row.lot.code, str(row.lot.member))
