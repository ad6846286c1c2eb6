"""Reads staffing instances: tasks with fixed times, and for each person the tasks they may do.

The format is that of Krishnamoorthy, Ernst and Baatar, "Algorithms for large scale shift minimisation personnel task
scheduling problems", European Journal of Operational Research 219(1), 2012: ``Jobs = n``, n lines ``start end`` (the
end is not worked any more), ``Qualifications = w``, w lines ``count: task task ...`` with tasks counted from 0. Lines
with ``#`` are comments.
"""

from __future__ import annotations

from pathlib import Path

from scheduler.errors import BadRota
from scheduler.rota.question import Helper, Question, Seat


def read_staffing_file(path: Path) -> Question:
    """The question in a file: a seat for each task, people who are always there. ``BadRota`` names the line."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadRota(f"{path} cannot be read: {error}", remedy="Name a folder of instance files.") from error
    return _Reader(path, text).question()


class _Reader:
    """The lines of one file, one after the other."""

    def __init__(self, path: Path, text: str) -> None:
        self._path = path
        lines = [
            (number, line.split("#")[0].strip()) for number, line in enumerate(text.splitlines(), start=1)
        ]
        self._lines = iter([(number, line) for number, line in lines if line])
        self._at = 0

    def question(self) -> Question:
        tasks: list[list[int]] = []
        for _ in range(self._count("Jobs")):
            task = self._numbers(self._next())
            if len(task) != 2 or task[0] >= task[1]:
                raise self._bad("This is no task.", "Give a start and an end after it.")
            tasks.append(task)
        able: list[list[int]] = []
        for _ in range(self._count("Qualifications")):
            said, _, listed = self._next().partition(":")
            row = self._numbers(listed)
            if self._numbers(said) != [len(row)] or any(not 0 <= one < len(tasks) for one in row):
                raise self._bad(
                    "This does not list the tasks of a person.",
                    f"Give their number, a colon, and tasks from 0 to {len(tasks) - 1}.",
                )
            able.append(row)
        return Question(
            helpers=tuple(Helper(id=f"person {number}") for number in range(len(able))),
            seats=tuple(
                Seat(
                    id=f"task {number}",
                    place="task",
                    start=start,
                    end=end,
                    able=frozenset(person for person, row in enumerate(able) if number in row),
                )
                for number, (start, end) in enumerate(tasks)
            ),
        )

    def _next(self) -> str:
        self._at, line = next(self._lines, (self._at + 1, ""))
        if not line:
            raise self._bad("The file ends here.", "Give the whole instance.")
        return line

    def _count(self, key: str) -> int:
        line = self._next()
        while line.partition("=")[0].strip() == "Type":
            line = self._next()
        name, _, value = line.partition("=")
        if name.strip() != key or not value.strip().isdecimal():
            raise self._bad(f"Here {key} = and a number was expected.", "Check the lines before it.")
        return int(value)

    def _numbers(self, text: str) -> list[int]:
        try:
            return [int(word) for word in text.split()]
        except ValueError:
            raise self._bad(f"{text!r} is not made of whole numbers.", "Write whole numbers.") from None

    def _bad(self, message: str, remedy: str) -> BadRota:
        return BadRota(f"{self._path}, line {self._at}: {message}", remedy=remedy)
