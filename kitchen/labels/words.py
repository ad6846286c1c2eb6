"""What a jar's label says, in the language of whoever prints it, and how it is set."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.utils.translation import gettext

from kitchen.equipment.models import CannerKind
from kitchen.labels.bridge import SHORT_CAUTION, low_acid
from kitchen.labels.queries import Lot
from kitchen.labels.rules import best_by, check_fit_for_shelf
from kitchen.labels.typesetting import BOLD, REGULAR, Block
from kitchen.language.said import said
from kitchen.planning.models import Load
from kitchen.typeface import FACE, letters_missing, printable, ready

# Univ. of California Master Food Preservers, Canning; USDA Yearbook (1977), Canning, Freezing, Storing Garden Produce.
STORE = "Store at 50 to 70 F (10 to 21 C), cool, dark and dry, without the band."
# Signs of spoilage: USDA Yearbook (1977), Canning, Freezing, Storing Garden Produce.
LOW_ACID = "Low-acid food: bulging, leaking, spurting, cloudy or smelling off: throw it out, never taste."
ACID = "Acid food: mould, gas, leaking or smelling off: throw it out, never taste."

LEAST_PT = 5.0
"""The smallest type on a label, the caution's too. Common practice, no source."""
_LEAST_NAME_PT = 7.0
_LEAST_LOT_PT = 6.0

_HELD = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelWords:
    """A label as text. ``member`` is empty when no name is wanted; ``address`` is what the code leads to."""

    food: str
    jar: str
    lot: str
    dates: tuple[str, ...]
    process: str
    member: str
    storage: str
    caution: str
    address: str

    def blocks(self) -> Iterator[Block]:
        """The text from top to bottom."""
        yield Block(text=self.food, size_pt=13, least_pt=_LEAST_NAME_PT, font=BOLD, one_line=True)
        yield Block(text=self.jar, size_pt=9, least_pt=LEAST_PT)
        yield Block(text=said(f"Lot {self.lot}"), size_pt=9, least_pt=_LEAST_LOT_PT, font=BOLD, one_line=True)
        for told in self.dates:
            yield Block(text=told, size_pt=9, least_pt=LEAST_PT, font=BOLD, one_line=True)
        yield Block(text=self.process, size_pt=8, least_pt=LEAST_PT)
        if self.member:
            yield Block(
                text=gettext("For %(member)s") % {"member": self.member},
                size_pt=8,
                least_pt=LEAST_PT,
                font=_face_for(self.member),
            )
        yield Block(text=self.storage, size_pt=7, least_pt=LEAST_PT)
        yield Block(text=self.caution, size_pt=7, least_pt=LEAST_PT)


def label_of(lot: Lot, *, with_name: bool) -> LabelWords:
    """The label of a lot's jars. Refused like ``check_fit_for_shelf``: no other jars get one."""
    check_fit_for_shelf(lot)
    batch = lot.portion.batch
    processed, best = lot.processed_on, best_by_of(lot)
    dates = (
        None if processed is None else f"Processed {_day(processed)}",
        None if best is None else f"Best by {_day(best)}",
    )
    named = with_name and not letters_missing(str(lot.member))
    return LabelWords(
        food=said(batch.food_name),
        # Each said by itself: joined, their commas would be taken for those of one sentence.
        jar=", ".join((said(batch.get_pack_display()), said(batch.get_jar_display().lower()))),
        lot=lot.code,
        dates=tuple(said(told) for told in dates if told is not None),
        process=said(process_words(lot.load)),
        member=printable(str(lot.member)) if named else "",
        storage=f"{said(STORE)} {said(LOW_ACID if low_acid(batch.food_id) else ACID)}",
        caution=said(SHORT_CAUTION),
        address=address_of(lot),
    )


def best_by_of(lot: Lot) -> date | None:
    """Until when a lot is at its best, by its kitchen's policy; None while it is not out."""
    on = lot.processed_on
    return None if on is None else best_by(on, lot.kitchen.best_by_months)


def process_words(load: Load) -> str:
    """Method, what this canner's gauge had to show, and minutes."""
    kind, minutes = CannerKind(load.canner.kind), f"{load.process_minutes}{_HELD}min"
    if kind is CannerKind.STEAM:
        return f"Canned in atmospheric steam, {minutes}."
    reading = load.pressure_psi if load.target_reading_psi is None else load.target_reading_psi
    if reading is None or not load.canner.is_pressure:
        return f"Canned in boiling water, {minutes}."
    corrected = load.pressure_psi is not None and reading != load.pressure_psi
    process = f" (process {load.pressure_psi:g}{_HELD}lb)" if corrected else ""
    pressure = f"{reading:g}{_HELD}lb{process}"
    if kind is CannerKind.DIAL:
        return f"Pressure canned, dial gauge at {pressure}, {minutes}."
    return f"Pressure canned, weighted gauge at {pressure}, {minutes}."


def address_of(lot: Lot) -> str:
    """Where the code on a jar leads: its record, for whoever is signed in and may see it. It is no key."""
    return f"{settings.KITCHEN_URL}/lot/{lot.code}"


def _face_for(name: str) -> str:
    """The type that every PDF reader has, unless the name needs letters beyond it."""
    if all(letter.encode("cp1252", "ignore") for letter in name):
        return REGULAR
    ready()
    return FACE


def _day(on: date) -> str:
    return f"{on.day} {on:%b} {on.year}"
