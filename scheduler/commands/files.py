"""Reading and writing the files that a command line names."""

from __future__ import annotations

from pathlib import Path

from scheduler.day_file import read_day
from scheduler.errors import BadDayFile, BadPlanFile, SchedulerError
from scheduler.learning import Record
from scheduler.plan import Plan
from scheduler.plan_file import read_plan
from scheduler.problem import Day
from scheduler.records_file import BadRecordsFile, read_records


class FileRefused(SchedulerError):
    """A file that the system will not read or write."""

    code = "file-refused"


def day_in(path: Path) -> Day:
    """The day in a file; ``BadDayFile`` when it is none, ``FileRefused`` when it cannot be read."""
    try:
        return read_day(_text_of(path))
    except UnicodeDecodeError as error:
        raise BadDayFile(
            f"{path} is not text in UTF-8: {error.reason}.", remedy="Save it as UTF-8."
        ) from None


def plan_in(path: Path) -> Plan:
    """The plan in a file; ``BadPlanFile`` when it is none, ``FileRefused`` when it cannot be read."""
    try:
        return read_plan(_text_of(path))
    except UnicodeDecodeError as error:
        raise BadPlanFile(
            f"{path} is not text in UTF-8: {error.reason}.", remedy="Save it as UTF-8."
        ) from None


def records_in(path: Path) -> tuple[Record, ...]:
    """The recorded times in a file; ``BadRecordsFile`` when it is none, ``FileRefused`` when it cannot be read."""
    try:
        return read_records(_text_of(path))
    except UnicodeDecodeError as error:
        raise BadRecordsFile(
            f"{path} is not text in UTF-8: {error.reason}.", remedy="Save it as UTF-8."
        ) from None


def text_in(path: Path) -> str:
    """The text of a file; ``FileRefused`` when it cannot be read or is no text in UTF-8."""
    try:
        return _text_of(path)
    except UnicodeDecodeError as error:
        raise FileRefused(
            f"{path} is not text in UTF-8: {error.reason}.", remedy="Save it as UTF-8."
        ) from None


def write_file(path: Path, content: str | bytes) -> None:
    """Write a whole file; ``FileRefused`` when the system will not."""
    try:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise FileRefused(
            f"{path} cannot be written: {error.strerror}.", remedy="Check the folder and its rights."
        ) from None


def _text_of(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise FileRefused(
            f"{path} cannot be read: {error.strerror}.", remedy="Check its name and rights."
        ) from None
