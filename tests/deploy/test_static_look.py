"""The rules against unsafe code are on for the whole program, and whatever is excused from one says why."""

from __future__ import annotations

import re
import tomllib

from tests.deploy.waiting import PROJECT

EXCUSED = re.compile(r"#\s*noqa(?!: [A-Z])|#\s*noqa: [A-Z0-9, ]*\bS\d+[A-Z0-9, ]*(?P<why>.*)$")
RUFF = tomllib.loads((PROJECT / "pyproject.toml").read_text())["tool"]["ruff"]["lint"]


def test_the_rules_are_on() -> None:
    assert "S" in RUFF["select"]
    assert [rule for rule in RUFF["ignore"] if rule.startswith("S")] == ["S603"]
    excused = {
        path: rules
        for path, rules in RUFF["per-file-ignores"].items()
        if path.startswith(("kitchen", "scheduler", "**"))
        and any(re.fullmatch(r"S\d*", one) for one in rules)
    }
    # Statements made of names of tables that stand in the code.
    assert excused == {"**/migrations/*": ["D1", "S608"], "kitchen/audit/append_only.py": ["S608"]}


def test_each_exception_is_answered_where_it_stands() -> None:
    silent = []
    for half in ("kitchen", "scheduler", "deploy"):
        for file in sorted((PROJECT / half).rglob("*.py")):
            for number, line in enumerate(file.read_text().splitlines(), 1):
                found = EXCUSED.search(line)
                if found and len((found["why"] or "").strip(" -()#")) < len("a secret"):
                    silent.append(f"{file.relative_to(PROJECT)}:{number}")
    assert silent == []
