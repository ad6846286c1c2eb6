"""The parts of a deployment, and when they refuse to start."""

from __future__ import annotations

import os
import sys

import pytest
from celery import current_app

from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration
from kitchen.serve import roles

SHARED = {"KITCHEN_DATABASE_URL": "postgres://here/kitchen", "KITCHEN_BROKER_URL": "redis://here/0"}


@pytest.fixture
def became(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """What this process would have become."""
    programs: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda program, words: programs.append(words))
    for name, value in SHARED.items():
        monkeypatch.setenv(name, value)
    return programs


def words_of(role: str, **variables: str) -> list[str]:
    return roles.ROLES[role](Environment({f"KITCHEN_{name}": value for name, value in variables.items()}))


@pytest.mark.parametrize("role", list(roles.ROLES))
def test_each_part_is_this_python_and_nothing_else(role: str, became: list[list[str]]) -> None:
    roles.run(role)
    (words,) = became
    assert words[:3] == [sys.executable, "-P", "-m"]
    assert words[3] == ("gunicorn" if role == "web" else "celery")


@pytest.mark.parametrize("missing", list(SHARED))
def test_parts_that_share_nothing_are_refused(
    missing: str, became: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(missing)
    with pytest.raises(BadConfiguration, match=f"worker shares its work with other programs, and {missing}"):
        roles.run("worker")
    assert became == []


def test_processes_and_port_are_as_the_environment_says() -> None:
    words = words_of("web", WEB_PROCESSES="3", PORT="8001")
    assert words[words.index("--workers") + 1] == "3"
    assert words[words.index("--bind") + 1] == "127.0.0.1:8001"
    assert words_of("web", LISTEN="::1")[-1] == "[::1]:8000"
    assert words_of("worker", WORKER_PROCESSES="5")[-1] == "5"
    with pytest.raises(BadConfiguration, match="Use a number from 1 to 64"):
        words_of("web", WEB_PROCESSES="none")


def test_the_web_server_is_not_opened_to_others_without_a_name() -> None:
    with pytest.raises(BadConfiguration, match="has no name there"):
        words_of("web", LISTEN="0.0.0.0")  # noqa: S104


def test_plans_wait_in_the_solvers_queue_and_nothing_else_does() -> None:
    """The solver reads its own queue alone, the worker the other; a worker that is told nothing reads both."""
    solvers, workers = words_of("solver"), words_of("worker")
    queues = (solvers[solvers.index("--queues") + 1], workers[workers.index("--queues") + 1])
    assert set(queues) == {queue.name for queue in current_app.conf.task_queues}
    current_app.loader.import_default_modules()
    for name in [name for name in current_app.tasks if name.startswith("kitchen.")]:
        queue = current_app.amqp.router.route({}, name)["queue"].name
        planning = name.startswith("kitchen.planning.tasks.run_")
        assert queue == (queues[0] if planning else queues[1]), name
