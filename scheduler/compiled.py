"""Inner loops as machine code.

The machine code is kept beside the program, under a digest of every source file that has such loops: a loop is never
run as it was before an edit, also when the edit was in a loop it calls. Where nothing can be written there, the user's
cache folder is taken; where that cannot be written either, each start translates anew and nothing else changes.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])

_HERE = Path(__file__).parent
_MARK = b"from scheduler.compiled import"


def compiled(function: F) -> F:
    """The same function as machine code, translated when first called and remembered between starts.

    It may use numbers, tuples, NumPy arrays and other such functions. Arithmetic is that of the source, in its order,
    so that a result does not depend on the machine. Whole numbers have 64 bits and wrap around.
    """
    return _translated(function, from_python=True)


def compiled_part(function: F) -> F:
    """As :func:`compiled`, for a part of such a function that Python itself never calls: translated sooner."""
    return _translated(function, from_python=False)


def compiled_inline(function: F) -> F:
    """As :func:`compiled_part`, for one called very often: it becomes part of what calls it, which is faster."""
    return _translated(function, from_python=False, inline=True)


def _translated(function: F, *, from_python: bool, inline: bool = False) -> F:
    # Without the interpreter's lock, two searches can run side by side.
    dispatcher = numba.njit(
        cache=_KEPT, nogil=True, forceinline=inline, no_cpython_wrapper=not from_python, no_cfunc_wrapper=True
    )(function)
    dispatcher.get_call_template = partial(_without_literals, dispatcher.get_call_template)
    return cast("F", dispatcher)


def _without_literals(
    find: Callable[..., object], args: Iterable[object], kws: Mapping[str, object]
) -> object:
    """A call with a constant is a call with any number: else each constant had a translation of its own."""
    plain = tuple(numba.types.unliteral(one) for one in args)
    return find(plain, {name: numba.types.unliteral(one) for name, one in kws.items()})


def _digest(package: Path) -> str:
    """A name that changes with any source file that has compiled loops."""
    sources = (path.read_bytes() for path in sorted(package.rglob("*.py")))
    marked = sha256()
    for source in sources:
        if _MARK in source:
            marked.update(sha256(source).digest())
    return marked.hexdigest()[:16]


def _can_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(folder, os.W_OK | os.X_OK)


def _folder(package: Path, chosen: str) -> Path | None:
    """Where machine code may be kept: the chosen folder if there is one, else the first that can be written."""
    name = f"compiled-{_digest(package)}"
    folders = [Path(chosen)] if chosen else [package / "__pycache__"]
    if not chosen:
        with suppress(RuntimeError):  # There may be no home folder.
            folders.append(Path.home() / ".cache" / "community-kitchen-planner")
    return next((folder / name for folder in folders if _can_write(folder / name)), None)


def _keep() -> bool:
    folder = _folder(_HERE, str(numba.config.CACHE_DIR))
    if folder is None:
        return False
    numba.config.CACHE_DIR = str(folder)
    return True


_KEPT = _keep()
