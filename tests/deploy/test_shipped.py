"""What is shipped in deploy/ says the same as the program: its commands, its variables, its ports."""

from __future__ import annotations

import ast
import re
import shlex
import shutil
import subprocess
from configparser import RawConfigParser
from pathlib import Path

import pytest
import yaml

from kitchen.configuration import broker, database, mail
from kitchen.configuration.environment import PREFIX
from kitchen.serve.roles import ROLES
from tests.deploy.waiting import PROJECT

DEPLOY = PROJECT / "deploy"
UNITS = sorted((DEPLOY / "systemd").iterdir())
COMMANDS = {*ROLES, "prepare", "backup"}
# Read by gunicorn itself.
NOT_THE_KITCHENS = {"FORWARDED_ALLOW_IPS"}
# Read through a constant, or by a reader of their own.
NAMED_ELSEWHERE = {broker.VARIABLE, database.VARIABLE, mail.VARIABLE}
READERS = {"text", "flag", "number"}


def variables_read() -> set[str]:
    """Every variable that the program asks its environment for by name."""
    found = set(NAMED_ELSEWHERE)
    sources = [
        *(PROJECT / "kitchen" / "configuration").glob("*.py"),
        *(PROJECT / "kitchen" / "serve").glob("*.py"),
    ]
    for source in [*sources, PROJECT / "kitchen" / "settings.py"]:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute) or not node.args:
                continue
            name = node.args[0]
            if node.func.attr in READERS and isinstance(name, ast.Constant) and isinstance(name.value, str):
                found.add(f"{PREFIX}{name.value}")
    return found


def variables_shipped() -> set[str]:
    text = (DEPLOY / "environment.example").read_text(encoding="utf-8")
    return set(re.findall(r"^#?([A-Z_]+)=", text, re.MULTILINE))


def test_the_environment_file_has_every_variable_that_is_read_and_no_other() -> None:
    assert variables_read() == variables_shipped() - NOT_THE_KITCHENS


def test_every_variable_stands_in_the_developers_table() -> None:
    told = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert [name for name in variables_read() if f"`{name}`" not in told] == []


def test_every_variable_has_a_line_that_says_what_it_is() -> None:
    before = ""
    for line in (DEPLOY / "environment.example").read_text(encoding="utf-8").splitlines():
        if re.match(r"#?[A-Z_]+=", line):
            assert before.startswith("# "), line
            assert " " not in line, line
        before = line


@pytest.fixture(scope="module")
def compose() -> dict[str, dict[str, object]]:
    read: dict[str, dict[str, object]] = yaml.safe_load((DEPLOY / "compose.yaml").read_text(encoding="utf-8"))
    return read


def test_every_part_in_containers_is_one_of_the_kitchens_commands(
    compose: dict[str, dict[str, object]],
) -> None:
    services = {name: one for name, one in compose["services"].items() if isinstance(one, dict)}
    ours = {name: one["command"] for name, one in services.items() if "build" in one}
    assert ours == {name: [name] for name in {*ROLES, "prepare"}}
    for one in services.values():
        for needed in one.get("depends_on", ()):
            assert needed in services


def test_the_containers_variables_are_known(compose: dict[str, dict[str, object]]) -> None:
    shared = compose["x-kitchen"]["environment"]
    assert isinstance(shared, dict)
    assert set(shared) <= variables_shipped()


def test_what_the_containers_mount_is_shipped_or_explained(compose: dict[str, dict[str, object]]) -> None:
    proxy = compose["services"]["proxy"]
    assert isinstance(proxy, dict)
    mounted = {mount.split(":")[0] for mount in proxy["volumes"]}
    shipped = {one for one in mounted if (DEPLOY / one).is_file()}
    told = (DEPLOY / "README.md").read_text(encoding="utf-8")
    assert all(Path(one).name in told for one in mounted - shipped)


def unit(file: Path) -> RawConfigParser:
    parsed = RawConfigParser(strict=False)
    parsed.optionxform = str  # type: ignore[assignment,method-assign]  # Names keep their capitals.
    parsed.read_string(file.read_text(encoding="utf-8"))
    return parsed


@pytest.mark.parametrize("file", [one for one in UNITS if one.suffix == ".service"], ids=lambda one: one.name)
def test_every_unit_starts_a_command_that_there_is(file: Path) -> None:
    service = unit(file)["Service"]
    words = shlex.split(service["ExecStart"])
    if words[1:2] == ["-c"]:
        words = shlex.split(words[2])
    assert "/opt/kitchen/.venv/bin/python" in words
    assert words[words.index("kitchen") + 1] in COMMANDS
    assert service["User"] == "kitchen"
    assert service["EnvironmentFile"] == "/etc/kitchen/environment"


def test_the_target_wants_every_part() -> None:
    text = (DEPLOY / "systemd" / "kitchen.target").read_text(encoding="utf-8")
    wanted = {re.sub(r"@\d+", "@", name) for name in re.findall(r"kitchen-[\w@]+\.\w+", text)}
    parts = {one.name for one in UNITS} - {
        "kitchen.target",
        "kitchen-prepare.service",
        "kitchen-backup.service",
    }
    assert wanted == parts


def test_the_proxy_asks_the_ports_that_the_target_starts() -> None:
    target = (DEPLOY / "systemd" / "kitchen.target").read_text(encoding="utf-8")
    upstream = (DEPLOY / "nginx" / "upstream.conf").read_text(encoding="utf-8")
    assert re.findall(r"server 127\.0\.0\.1:(\d+)", upstream) == re.findall(r"kitchen-web@(\d+)", target)


def test_systemd_finds_no_fault_with_the_units(tmp_path: Path, systemd_analyze: str) -> None:
    """With the program where it lies here."""
    for file in UNITS:
        text = file.read_text(encoding="utf-8").replace("/opt/kitchen", str(PROJECT))
        text = re.sub(r"^(User|Group)=kitchen$", r"\1=root", text, flags=re.MULTILINE)
        (tmp_path / file.name).write_text(text, encoding="utf-8")
    named = [str(tmp_path / one.name.replace("@.", "@1.")) for one in UNITS]
    for name in named:
        plain = Path(name.replace("@1.", "@."))
        if plain != Path(name):
            shutil.copy(plain, name)
    said = subprocess.run(
        [systemd_analyze, "verify", "--man=no", "--recursive-errors=no", *named],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (said.returncode, said.stderr) == (0, "")
