"""Nothing in the package reaches out to a network; only the review page listens, on this machine."""

import ast
import subprocess
import sys
from pathlib import Path

import puttvision

ROOT = Path(puttvision.__file__).parent
REACH_OUT = {
    "aiohttp", "ftplib", "http", "httpx", "imaplib", "poplib", "requests", "smtplib", "socket", "ssl",
    "telnetlib", "urllib3", "xmlrpc",
}  # fmt: skip
MAY_LISTEN = "review/page/serve.py"
"""The local page's server: it opens a socket to listen on."""


def reaching_out(text):
    """Modules imported that can open a connection."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        for name in names:
            if name.split(".")[0] in REACH_OUT or name.startswith("urllib.request"):
                found.add(name)
    return found


def test_no_module_can_open_a_connection():
    for path in ROOT.rglob("*.py"):
        relative = path.relative_to(ROOT).as_posix()
        if relative != MAY_LISTEN:
            assert reaching_out(path.read_text(encoding="utf-8")) == set(), relative


def test_the_check_sees_them():
    assert reaching_out("def f():\n    from urllib.request import urlopen\n    import http.client\n") == {
        "urllib.request.urlopen",
        "http.client",
    }
    assert reaching_out("from urllib.parse import quote") == set()


NO_NETWORK = """
import socket, sys
def refuse(*words):
    raise AssertionError(f"a connection was asked for: {words}")
socket.socket.connect = socket.socket.connect_ex = socket.getaddrinfo = refuse
from puttvision.cli.app import main
for words in (["players", "add", "Ines", "--consent"], ["players", "list"], ["export"], ["drills"]):
    sys.argv = ["puttvision", *words]
    try:
        main()
    except SystemExit as end:
        assert end.code in (0, None, 2), (words, end.code)
"""


def test_commands_work_where_every_connection_is_refused(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", NO_NETWORK],
        cwd=tmp_path,
        env={"PUTTVISION_STORE": str(tmp_path / "j.db"), "HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert "13 tables" in done.stdout
