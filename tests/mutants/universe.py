"""The judge's modules, executed anew with one of them changed, beside those that the program uses."""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import CodeType, ModuleType

import scheduler
from scheduler.judge import Violation
from scheduler.plan import Plan
from scheduler.problem import Day

Judge = Callable[[Day, Plan], tuple[Violation, ...]]

# In the order in which they are imported.
MODULES = (
    "rules/usage",
    "rules/case",
    "rules/chain",
    "rules/floor",
    "rules/jars",
    "rules/people",
    "rules/phases",
    "rules/process",
    "rules/rota",
    "rules/standing",
    "rules/vessel",
    "rules/watching",
    "score",
    "judge",
)


def source_file(module: str) -> Path:
    """Where the source of a module is."""
    return Path(scheduler.__path__[0]) / f"{module}.py"


@cache
def dependents(module: str) -> frozenset[str]:
    """The module and all of ``MODULES`` that import it, directly or not."""
    found = {module}
    for other in MODULES:
        if found & _imports(other):
            found.add(other)
    return frozenset(found)


def judge_with(module: str, code: CodeType) -> Judge:
    """A judge of its own in which one module runs this code.

    It makes only the checks on which the module bears; all of them when the list of checks itself is changed.
    """
    affected = dependents(module)
    codes = {other: code if other == module else _code(other) for other in MODULES if other in affected}
    with _restored():
        for name, its_code in codes.items():
            _execute(name, its_code)
        judging = sys.modules["scheduler.judge"]
    if module != "judge":
        names = {_full_name(name) for name in affected}
        judging.__dict__["RULES"] = tuple(one for one in judging.RULES if one.__module__ in names)
    made: Judge = judging.judge
    return made


def unchanged(module: str) -> Judge:
    """The judge as it is, with the checks that ``judge_with`` makes of this module's mutants."""
    return judge_with(module, _code(module))


def _full_name(module: str) -> str:
    return f"scheduler.{module.replace('/', '.')}"


@cache
def _code(module: str) -> CodeType:
    file = source_file(module)
    return compile(file.read_text(encoding="utf-8"), str(file), "exec")


@cache
def _imports(module: str) -> frozenset[str]:
    tree = ast.parse(source_file(module).read_text(encoding="utf-8"))
    imports = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    names = {node.module or "" for node in imports}
    names |= {f"{node.module}.{one.name}" for node in imports for one in node.names}
    return frozenset(other for other in MODULES if _full_name(other) in names)


def _execute(name: str, code: CodeType) -> None:
    full = _full_name(name)
    module = ModuleType(full)
    sys.modules[full] = module
    package, _, short = full.rpartition(".")
    setattr(sys.modules[package], short, module)
    exec(code, module.__dict__)  # noqa: S102 - The project's own source, a little changed.


@contextmanager
def _restored() -> Iterator[None]:
    before: Mapping[str, ModuleType] = {name: sys.modules[_full_name(name)] for name in MODULES}
    try:
        yield
    finally:
        for name, module in before.items():
            full = _full_name(name)
            sys.modules[full] = module
            package, _, short = full.rpartition(".")
            setattr(sys.modules[package], short, module)
