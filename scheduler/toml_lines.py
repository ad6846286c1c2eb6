"""On which line of a TOML file a value stands, so that a refusal can say where to look."""

from __future__ import annotations

import re
from collections.abc import Generator, Iterator

Path = tuple[str | int, ...]
"""Names of tables and keys, with the number of an entry of an array counted from 0: ``("batch", 2, "jar")``."""

_HEADER = re.compile(r"[ \t]*(\[\[?)([^\]\n]+)\]")
_KEY = re.compile(
    r"[ \t]*((?:[A-Za-z0-9_-]+|\"[^\"\n]*\"|'[^'\n]*')(?:[ \t]*\.[ \t]*[A-Za-z0-9_-]+)*)[ \t]*="
)
_STRING = re.compile(
    r"""
      \"\"\"(?:\\.|[^\\])*?\"\"\"
    | '''.*?'''
    | "(?:\\.|[^"\\\n])*"
    | '[^'\n]*'
    | \#[^\n]*
    """,
    re.DOTALL | re.VERBOSE,
)


class TomlLines:
    """The lines of the headers, keys and inline tables of a TOML text that is known to be well formed."""

    def __init__(self, text: str) -> None:
        self._lines = dict(_places(text))

    def line(self, path: Path) -> int:
        """The line of the value at ``path``, or of the nearest thing around it; 1 when nothing is."""
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return 1


def _places(text: str) -> Iterator[tuple[Path, int]]:
    text = _blank_strings(text)
    section: Path = ()
    entries: dict[Path, int] = {}
    position, line = 0, 1
    while position < len(text):
        header, key = _HEADER.match(text, position), _KEY.match(text, position)
        end = _end_of_line(text, position)
        if header is not None:
            section = _section(header, entries)
            if section[-1] == 0:
                yield section[:-1], line
            yield section, line
        elif key is not None:
            path = (*section, *_names(key[1]))
            yield path, line
            end = yield from _inline(text, key.end(), path, line)
        line += text.count("\n", position, end)
        position = end


def _section(header: re.Match[str], entries: dict[Path, int]) -> Path:
    """The full path of a header; an array's name is followed by the number of its latest entry."""
    names = _names(header[2])
    path: Path = ()
    for position, name in enumerate(names):
        path = (*path, name)
        if header[1] == "[[" and position == len(names) - 1:
            entries[path] = entries.get(path, -1) + 1
        if path in entries:
            path = (*path, entries[path])
    return path


def _inline(text: str, position: int, path: Path, line: int) -> Generator[tuple[Path, int], None, int]:
    """Yields the line of each entry of an array; returns where the value's last line ends."""
    depth, count = 0, 0
    for index in range(position, len(text)):
        letter = text[index]
        if letter in "[{":
            depth += 1
            if depth == 2:
                yield (*path, count), line
                count += 1
        elif letter in "]}":
            depth -= 1
        elif letter == "\n":
            line += 1
            if depth <= 0:
                return index + 1
    return len(text)


def _blank_strings(text: str) -> str:
    """The text with what stands in strings of values and in comments made harmless, line breaks kept."""
    return _STRING.sub(lambda found: re.sub(r"[^\n\"'A-Za-z0-9_-]", " ", found[0]), text)


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _end_of_line(text: str, position: int) -> int:
    found = text.find("\n", position)
    return len(text) if found < 0 else found + 1
