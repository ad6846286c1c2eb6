"""The published tables are refused when anything in them was changed, with or without new checksums."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from scheduler.errors import TablesDamaged
from scheduler.foods import read_foods
from scheduler.printed_process import read_processes
from scheduler.tables import MANIFEST, PACKAGED_TABLES, read_tables
from scheduler.yields import read_rates
from tests.scheduler.printed_tables import FOLDERS

TABLES = ("processes", "foods", "process_sources", "acidify", "yields")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "tables"
    shutil.copytree(PACKAGED_TABLES, copy, ignore=shutil.ignore_patterns("__pycache__"))
    return copy


def change(folder: Path, table: str, old: str, new: str) -> None:
    file = folder / f"{table}.csv"
    content = file.read_bytes()
    assert old.encode() in content
    file.write_bytes(content.replace(old.encode(), new.encode(), 1))


def sign_again(folder: Path) -> None:
    sums = (
        f"{hashlib.sha256(file.read_bytes()).hexdigest()}  {file.name}\n"
        for file in sorted(folder.glob("*.csv"))
    )
    (folder / MANIFEST).write_text("".join(sums), encoding="ascii")


def test_an_untouched_copy_is_read(folder: Path) -> None:
    assert len(read_processes(read_tables(folder))) == 1495


@pytest.mark.parametrize("reference", FOLDERS, ids=lambda reference: reference.name)
@pytest.mark.parametrize("table", TABLES)
def test_the_packaged_tables_are_the_reference_byte_for_byte(reference: Path, table: str) -> None:
    assert (PACKAGED_TABLES / f"{table}.csv").read_bytes() == (reference / f"{table}.csv").read_bytes()


def test_one_changed_figure_is_refused(folder: Path) -> None:
    change(
        folder,
        "processes",
        "snap_beans,pressure_dial,hot,quart,1.0,25",
        "snap_beans,pressure_dial,hot,quart,1.0,20",
    )
    with pytest.raises(TablesDamaged, match=r"processes\.csv is not the one that was checked in"):
        read_tables(folder)


@pytest.mark.parametrize("table", TABLES)
def test_one_changed_byte_anywhere_is_refused(folder: Path, table: str) -> None:
    file = folder / f"{table}.csv"
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    with pytest.raises(TablesDamaged, match=rf"{table}\.csv"):
        read_tables(folder)


@pytest.mark.parametrize("name", [MANIFEST, *(f"{table}.csv" for table in TABLES)])
def test_a_missing_file_is_refused(folder: Path, name: str) -> None:
    (folder / name).unlink()
    with pytest.raises(TablesDamaged, match="cannot be read"):
        read_tables(folder)


def test_a_file_the_checksums_do_not_name_is_refused(folder: Path) -> None:
    (folder / MANIFEST).write_text("", encoding="ascii")
    with pytest.raises(TablesDamaged):
        read_tables(folder)


BEANS = "snap_beans,pressure_dial,hot,pint,1.0,20,0,2000,11,S073,A"
BEANS_TOP = "snap_beans,pressure_dial,hot,pint,1.0,20,6001,8000,14,S073,A"


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (BEANS, BEANS.replace("snap_beans", "no_such_food"), "not among the foods"),
        (BEANS, BEANS.replace("pressure_dial", "oven"), "method is 'oven'"),
        (BEANS, BEANS.replace("hot", "cold"), "pack is 'cold'"),
        (BEANS, BEANS.replace("pint", "bucket"), "jar_size is 'bucket'"),
        (BEANS, BEANS.replace(",20,", ",,"), "process_minutes is missing"),
        (BEANS, BEANS.replace(",20,", ",0,"), "no minutes"),
        (BEANS, BEANS.replace(",20,", ",-20,"), "process_minutes is '-20'"),
        (BEANS, BEANS.replace(",20,", ",20.5,"), "not a whole number"),
        (BEANS, BEANS.replace(",20,", ",NaN,"), "process_minutes is 'NaN'"),
        (BEANS, BEANS.replace(",20,", ",twenty,"), "not a number"),
        (BEANS, BEANS.replace(",11,", ",,"), "pressure and method disagree"),
        (BEANS, BEANS.replace(",11,", ",0,"), "pressure is 0"),
        (BEANS, BEANS.replace(",0,2000,", ",2000,0,"), "ends before it starts"),
        (BEANS, BEANS.replace(",0,2000,", ",1,2000,"), "band starts at 1 ft; the one below it ends at -1 ft"),
        (
            BEANS,
            BEANS.replace(",0,2000,", ",0,1999,"),
            "band starts at 2001 ft; the one below it ends at 1999 ft",
        ),
        (
            BEANS,
            BEANS.replace(",0,2000,", ",0,2001,"),
            "band starts at 2001 ft; the one below it ends at 2001 ft",
        ),
        (BEANS_TOP, BEANS_TOP.replace("8000", "7999"), "bands end at 7999 ft"),
        (BEANS, BEANS.replace("1.0", "0"), "no headspace"),
        (BEANS, BEANS.replace("S073", "S999"), "source S999 is not listed"),
        (BEANS, BEANS.replace(",A", ",D"), "confidence is 'D'"),
        (BEANS, f"{BEANS}\r\n{BEANS}", "printed twice"),
        (BEANS, "snap_beans", "method is missing"),
    ],
)
def test_a_row_that_cannot_be_is_refused_even_with_new_checksums(
    folder: Path, old: str, new: str, what: str
) -> None:
    change(folder, "processes", old, new)
    sign_again(folder)
    with pytest.raises(TablesDamaged, match=what):
        read_processes(read_tables(folder))


def test_an_acidified_food_without_a_dose_for_a_printed_jar_is_refused(folder: Path) -> None:
    change(folder, "acidify", "pears_asian,quart", "pears_asian,half_gallon")
    sign_again(folder)
    with pytest.raises(TablesDamaged, match="pears_asian must be acidified"):
        read_processes(read_tables(folder))


@pytest.mark.parametrize(("old", "new"), [("figs,pint", "figs,bucket"), ("lemon juice,1,", "lemon juice,0,")])
def test_a_dose_that_cannot_be_is_refused(folder: Path, old: str, new: str) -> None:
    change(folder, "acidify", old, new)
    sign_again(folder)
    with pytest.raises(TablesDamaged, match=r"acidify\.csv, line 2"):
        read_processes(read_tables(folder))


def test_two_foods_of_one_name_are_refused(folder: Path) -> None:
    change(folder, "foods", "apple_juice,Apple juice", "apple_juice,Apple butter")
    sign_again(folder)
    with pytest.raises(TablesDamaged, match="answer to one name"):
        read_foods(read_tables(folder))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("applesauce,bushel,48", "applesauce,bushel,"),
        ("applesauce,bushel,48", "applesauce,cart,48"),
        ("applesauce,bushel,48,14,19,3,", "applesauce,bushel,48,14,19,0,"),
        ("applesauce,bushel,48", "no_such_food,bushel,48"),
    ],
)
def test_a_yield_that_cannot_be_is_refused(folder: Path, old: str, new: str) -> None:
    change(folder, "yields", old, new)
    sign_again(folder)
    with pytest.raises(TablesDamaged, match=r"yields\.csv, line 3"):
        read_rates(read_tables(folder))
