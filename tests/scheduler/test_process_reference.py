"""Every printed row comes back exactly, and only where it is printed. Source: USDA AIB 539, as read into the tables."""

from __future__ import annotations

from pathlib import Path

import pytest

from scheduler.canner_kind import CannerKind
from scheduler.errors import AltitudeOutOfRange
from scheduler.jars import JarSize, Pack
from scheduler.process import Process, find_processes, printed_processes, process_named
from tests.scheduler.printed_tables import (
    FOLDERS,
    HIGHEST_FT,
    Printed,
    family,
    rows,
    upper_ft,
)

KIND_OF = {
    "pressure_dial": CannerKind.DIAL,
    "pressure_weighted": CannerKind.WEIGHTED,
    "boiling_water": CannerKind.BOILING_WATER,
}
BAND_EDGES_FT = (0, 1, 1000, 1001, 2000, 2001, 3000, 3001, 4000, 4001, 6000, 6001, 7999, 8000)


def look_up(row: Printed, altitude_ft: float) -> tuple[Process, ...]:
    return find_processes(
        row["food_id"], Pack(row["pack"]), JarSize(row["jar_size"]), KIND_OF[row["method"]], altitude_ft
    )


def as_printed(process: Process) -> tuple[object, ...]:
    return (
        process.food_id,
        process.method,
        process.pack,
        process.jar,
        process.headspace_in,
        process.process_minutes,
        process.altitude_min_ft,
        process.altitude_max_ft,
        process.pressure_psi,
        process.source_id,
        process.confidence,
    )


def expected(row: Printed) -> tuple[object, ...]:
    return (
        row["food_id"],
        row["method"],
        row["pack"],
        row["jar_size"],
        float(row["headspace_in"]),
        int(row["process_minutes"]),
        int(row["altitude_min_ft"]),
        int(row["altitude_max_ft"]) if row["altitude_max_ft"] else None,
        int(row["pressure_psi"]) if row["pressure_psi"] else None,
        row["source_id"],
        row["confidence"],
    )


@pytest.fixture(params=FOLDERS, ids=lambda folder: folder.name)
def folder(request: pytest.FixtureRequest) -> Path:
    chosen: Path = request.param
    return chosen


def test_tables_hold_what_their_readme_counts(folder: Path) -> None:
    counts = {
        table: len(rows(table, folder))
        for table in ("processes", "foods", "process_sources", "acidify", "yields")
    }
    assert counts == {"processes": 1495, "foods": 100, "process_sources": 120, "acidify": 38, "yields": 45}


def test_every_row_comes_back_at_both_ends_and_the_middle_of_its_band(folder: Path) -> None:
    sources = {row["source_id"]: row["source"] for row in rows("process_sources", folder)}
    for row in rows("processes", folder):
        lower, upper = int(row["altitude_min_ft"]), upper_ft(row)
        for altitude_ft in (lower, (lower + upper) // 2, upper):
            found = [process for process in look_up(row, altitude_ft) if as_printed(process) == expected(row)]
            assert len(found) == 1, (row, altitude_ft)
            assert found[0].source == sources[row["source_id"]]


@pytest.mark.parametrize("altitude_ft", BAND_EDGES_FT)
def test_at_a_band_edge_exactly_the_printed_lines_come_back(folder: Path, altitude_ft: int) -> None:
    lines: dict[tuple[str, str, str, str], list[Printed]] = {}
    for row in rows("processes", folder):
        held = int(row["altitude_min_ft"]) <= altitude_ft <= upper_ft(row)
        lines.setdefault(family(row), []).extend([row] if held else [])
    for of_family, printed in lines.items():
        assert printed, of_family
        assert [as_printed(process) for process in look_up(printed[0], altitude_ft)] == [
            expected(row) for row in printed
        ]


@pytest.mark.parametrize("altitude_ft", [-0.1, -282, 8000.1, 8001, 10000, float("inf"), float("nan")])
def test_outside_the_bands_every_row_is_refused(altitude_ft: float) -> None:
    one_of_each = {family(row): row for row in rows("processes")}
    for row in one_of_each.values():
        with pytest.raises(AltitudeOutOfRange):
            look_up(row, altitude_ft)


@pytest.mark.parametrize("edge_ft", [1000, 2000, 3000, 4000, 6000])
def test_a_part_of_a_foot_above_an_edge_is_the_next_band(edge_ft: int) -> None:
    one_of_each = {family(row): row for row in rows("processes")}
    for row in one_of_each.values():
        assert look_up(row, edge_ft + 0.5) == look_up(row, edge_ft + 1)
        assert look_up(row, edge_ft - 0.5) == look_up(row, edge_ft)


def test_keys_name_one_row_each_and_lead_back_to_it() -> None:
    processes = printed_processes()
    assert len({process.key for process in processes}) == len(processes) == 1495
    assert all(process_named(process.key) is process for process in processes)
    assert max(len(process.key) for process in processes) <= 120


def test_bands_of_every_table_meet_without_a_gap() -> None:
    bands: dict[tuple[str, str, str, str], set[tuple[int, int]]] = {}
    for row in rows("processes"):
        bands.setdefault(family(row), set()).add((int(row["altitude_min_ft"]), upper_ft(row)))
    for edges in bands.values():
        ordered = sorted(edges)
        assert ordered[0][0] == 0
        assert ordered[-1][1] == HIGHEST_FT
        assert [lower for lower, _ in ordered[1:]] == [upper + 1 for _, upper in ordered[:-1]]
