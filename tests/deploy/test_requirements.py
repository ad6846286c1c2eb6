"""The locked lists hold what pyproject.toml asks for, whole and without addresses."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.deploy.waiting import PROJECT

LISTS = PROJECT / "deploy" / "requirements"
PYPROJECT = tomllib.loads((PROJECT / "pyproject.toml").read_text())

BASE = tuple(PYPROJECT["project"]["dependencies"])
POSTGRES = (*BASE, *PYPROJECT["project"]["optional-dependencies"]["postgres"])
DEV = (*POSTGRES, *PYPROJECT["dependency-groups"]["dev"])


def blocks(name: str) -> list[str]:
    """One text for each locked release: its requirement and the hashes below it."""
    return re.split(r"\n(?=[a-z0-9])", (LISTS / f"{name}.txt").read_text().strip())


def locked(name: str) -> dict[str, set[Version]]:
    """The versions locked for each distribution; more than one where they differ by Python."""
    found: dict[str, set[Version]] = {}
    for block in blocks(name):
        requirement = Requirement(block.splitlines()[0].removesuffix("\\").strip())
        (pin,) = requirement.specifier
        assert pin.operator == "=="
        found.setdefault(canonicalize_name(requirement.name), set()).add(Version(pin.version))
    return found


@pytest.mark.parametrize(("name", "asked"), [("base", BASE), ("postgres", POSTGRES), ("dev", DEV)])
def test_a_list_holds_what_is_asked_for(name: str, asked: tuple[str, ...]) -> None:
    held = locked(name)
    for requirement in map(Requirement, asked):
        assert any(specifier.operator in {">=", "=="} for specifier in requirement.specifier), (
            f"{requirement} has no floor"
        )
        assert held[canonicalize_name(requirement.name)]
        assert all(requirement.specifier.contains(one) for one in held[canonicalize_name(requirement.name)])


@pytest.mark.parametrize("name", ["base", "postgres", "dev"])
def test_every_release_has_its_hash_and_none_its_address(name: str) -> None:
    assert all("--hash=sha256:" in block for block in blocks(name))
    assert "://" not in (LISTS / f"{name}.txt").read_text()


def test_the_longer_lists_hold_the_shorter_ones() -> None:
    assert set(blocks("base")) <= set(blocks("postgres")) <= set(blocks("dev"))


def test_what_is_installed_is_what_is_locked() -> None:
    for requirement in map(Requirement, DEV):
        name = canonicalize_name(requirement.name)
        assert Version(version(name)) in locked("dev")[name]
