"""A load's sheet as it stands on the run sheet, written once while all in it is as it is."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from kitchen.equipment.models import Canner
from kitchen.floor.models import RunEvent
from kitchen.floor.pages import CannerPage
from kitchen.floor.sheets import RecordLine, Sheet
from kitchen.language.pieces import columns_of, kept_piece
from kitchen.members.models import Kitchen


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSheet:
    """A sheet, and what stands on it; ``text`` is None when it asks something and is written for its reader."""

    sheet: Sheet
    text: SafeString | None


def written_sheets(page: CannerPage, kitchen: Kitchen, *, runs: bool, caution: str) -> list[WrittenSheet]:
    """The canner's sheets. One with a deviation may ask for a decision: that form is the reader's own."""
    at_hand = page.card and page.card.load
    return [
        WrittenSheet(
            sheet=one,
            text=None
            if one.load.deviation
            else _text(one, page.canner, kitchen, runs=runs, is_at_hand=one.load == at_hand, caution=caution),
        )
        for one in page.sheets
    ]


def _text(
    sheet: Sheet, canner: Canner, kitchen: Kitchen, *, runs: bool, is_at_hand: bool, caution: str
) -> SafeString:
    facts = (kitchen.slug, columns_of(canner), runs, is_at_hand, caution, *sheet_facts(sheet))
    shown = {
        "kitchen": kitchen,
        "canner": canner,
        "sheet": sheet,
        "load": sheet.load,
        "at_hand": sheet.load if is_at_hand else None,
        "runs": runs,
        "caution": caution,
    }
    return kept_piece("floor/load.html", facts, lambda: shown, kitchen.zone)


def sheet_facts(sheet: Sheet) -> tuple[object, ...]:
    """All that was read for the sheet, column by column, so that nothing that is shown can be missing here."""
    return (
        columns_of(sheet.load),
        str(sheet.load.cooling_table),
        [(columns_of(one), str(one.user)) for one in sheet.watches],
        sheet.picture,
        [
            (columns_of(portion), columns_of(portion.batch), str(portion.batch.member), headspace)
            for portion, headspace in sheet.contents
        ],
        sheet.water,
        sheet.phases,
        [_line(one) for one in sheet.record],
        sheet.planned_out,
    )


def _line(line: RecordLine) -> tuple[object, ...]:
    back = line.taken_back and event_facts(line.taken_back)
    return event_facts(line.event), [event_facts(one) for one in line.was], back


def event_facts(event: RunEvent) -> tuple[object, ...]:
    """All of a line, and who is named in it."""
    return columns_of(event), str(event.recorded_by), str(event.taken_by)
