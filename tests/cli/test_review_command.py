"""`puttvision review` as a coach starts it."""

import os
import re
import signal
import socket
import subprocess
import sys

import httpx
import pytest

REVIEW = [sys.executable, "-c", "from puttvision.cli.app import main; main()", "review", "--no-browser"]


@pytest.fixture
def start(tmp_path):
    """Starts the page; gives the process and the address it printed."""
    begun = []

    def run(*words):
        process = subprocess.Popen(
            [*REVIEW, "--store", str(tmp_path / "journal.db"), *words],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
            env={key: value for key, value in os.environ.items() if not key.startswith("COV_")},
        )  # fmt: skip
        begun.append(process)
        return process, process.stdout.readline().strip()

    yield run
    for process in begun:
        if process.poll() is None:
            process.kill()
        process.communicate()


def test_it_opens_on_this_computer_only_and_stops_on_ctrl_c(start):
    process, address = start("--port", "0", "--who", "Quill")
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/", address)
    for _ in range(50):
        try:
            assert httpx.get(address).status_code == 200
            break
        except httpx.ConnectError:
            continue
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=20)
    assert "Traceback" not in err


def test_open_to_a_network_it_prints_a_token_and_demands_it(start):
    _, address = start("--port", "0", "--host", "0.0.0.0")
    port, token = re.fullmatch(r"http://[^/]+:(\d+)/\?token=([0-9a-f]{24})", address).groups()
    here = f"http://127.0.0.1:{port}/"
    assert httpx.get(here, timeout=30).status_code == 401
    assert httpx.get(f"{here}?token={token}").status_code == 303


def test_a_port_in_use_is_one_clear_line(start):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        process, address = start("--port", str(taken.getsockname()[1]))
        _, err = process.communicate(timeout=30)
    assert address == ""
    assert process.returncode == 1
    assert len(err.strip().splitlines()) == 1
    assert "--port" in err
