"""What is made ready before the first page."""

from __future__ import annotations

from pathlib import Path

import pytest

from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration
from kitchen.serve.listen import check_listen_address, open_socket
from kitchen.serve.prepare import lock_data_folder, wants_demo


@pytest.mark.parametrize(
    ("variables", "wanted"),
    [
        ({}, True),
        ({"KITCHEN_EMPTY": "1"}, False),
        ({"KITCHEN_HOSTS": "kitchen.example"}, False),
        ({"KITCHEN_HTTPS": "1", "KITCHEN_HOSTS": "kitchen.example"}, False),
    ],
)
def test_the_demo_is_for_this_machine_alone(variables: dict[str, str], wanted: bool) -> None:
    """Everyone can read the demo's passwords."""
    assert wants_demo(Environment(variables)) is wanted


def test_one_data_folder_is_served_once(tmp_path: Path) -> None:
    with lock_data_folder(tmp_path), pytest.raises(BadConfiguration, match="already being served"):
        lock_data_folder(tmp_path)
    lock_data_folder(tmp_path).close()


def test_a_port_that_is_taken_is_named() -> None:
    with open_socket("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BadConfiguration, match=f"Port {port} on 127.0.0.1 cannot be used"):
            open_socket("127.0.0.1", port)


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1", "127.1.2.3", "::1"])
def test_this_machine_may_always_listen_to_itself(host: str) -> None:
    check_listen_address(host, [])


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "kitchen.example"])  # noqa: S104
def test_listening_beyond_it_needs_a_name(host: str) -> None:
    check_listen_address(host, ["kitchen.example"])
    with pytest.raises(BadConfiguration, match="has no name there"):
        check_listen_address(host, [])
