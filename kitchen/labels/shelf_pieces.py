"""The long lists of a shelf, written once for each state of it."""

from __future__ import annotations

from django.utils.safestring import SafeString

from kitchen.batches.models import Jar
from kitchen.labels.pages import Shelf
from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen


def ready_piece(kitchen: Kitchen, shelf: Shelf, *, whole: bool) -> SafeString:
    """What to use first; whose it is where it is everybody's."""
    ready = [
        (
            row.best_by,
            row.past,
            row.lot.on_hand,
            row.lot.sealed,
            row.lot.portion.batch.food_name,
            Jar(row.lot.portion.batch.jar).label,
            row.lot.code,
            str(row.lot.member),
        )
        for row in shelf.ready
    ]
    return _piece("labels/ready.html", kitchen, "ready", ready, whole=whole)


def held_piece(kitchen: Kitchen, shelf: Shelf, *, whole: bool) -> SafeString:
    """What is on hold, each with the reason."""
    held = [
        (
            row.lot.code,
            row.lot.portion.batch.food_name,
            row.lot.portion.jars,
            Jar(row.lot.portion.batch.jar).label,
            str(row.lot.member),
            row.lot.load.deviation,
        )
        for row in shelf.on_hold
    ]
    return _piece("labels/held.html", kitchen, "held", held, whole=whole)


def to_count_piece(kitchen: Kitchen, shelf: Shelf, *, whole: bool) -> SafeString:
    """What waits to be counted."""
    waiting = [
        (
            str(row.lot.portion.uuid),
            row.lot.code,
            row.lot.portion.batch.food_name,
            row.lot.portion.jars,
            Jar(row.lot.portion.batch.jar).label,
            str(row.lot.member),
        )
        for row in shelf.to_count
    ]
    return _piece("labels/to_count.html", kitchen, "to_count", waiting, whole=whole)


def _piece(template: str, kitchen: Kitchen, name: str, rows: object, *, whole: bool) -> SafeString:
    return kept_piece(
        template,
        (kitchen.slug, whole, rows),
        lambda: {name: rows, "slug": kitchen.slug, "whole": whole},
        kitchen.zone,
    )
