"""`puttvision card` in a real terminal: a pseudo-terminal under the command, a screen read by pyte."""

import os
import signal
import sys
import time

import pexpect
import pyte

PROGRAM = "import sys; sys.argv[0] = 'puttvision'; from puttvision.cli.app import main; main()"
PATIENCE_S = 20.0
"""A busy machine may take its time; a screen that is right is seen at once."""


class Terminal:
    """One window: what is typed goes in, what a scorer would see comes out."""

    def __init__(self, *words, columns=40, rows=20, folder=None, **environment):
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        plain = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "NO_COLOR"))}
        env = plain | {"TERM": "xterm-256color", "LANG": "C.UTF-8"} | environment
        self.child = pexpect.spawn(
            sys.executable,
            ["-c", PROGRAM, "card", *map(str, words)],
            env=env,
            dimensions=(rows, columns),
            cwd=folder,
            timeout=PATIENCE_S,
        )

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.child.close(force=True)

    @property
    def rows(self):
        return [row.rstrip() for row in self.screen.display]

    @property
    def text(self):
        """All that is on the screen, in one line."""
        return " ".join(" ".join(self.rows).split())

    def read(self, seconds=0.05):
        """Take in what the program shows within some time; False once it has ended."""
        try:
            new = self.child.read_nonblocking(65536, seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += new
        self._stream.feed(new)
        return True

    def wait_for(self, *words, down_to=0):
        """Until all these words stand on the screen, and something in row ``down_to`` or below."""
        until = time.monotonic() + PATIENCE_S
        while not (all(word in self.text for word in words) and any(self.rows[down_to:])):
            lives = self.read()
            if not lives or time.monotonic() > until:
                shown = "\n".join(self.rows)
                raise AssertionError(f"{words} never appeared; {'open' if lives else 'ended'}:\n{shown}")
        return self

    def type(self, letters):
        for letter in letters.split():
            self.child.send(" " if letter == "_" else letter)

    def kill(self):
        """End it as a flat battery does."""
        self.child.kill(signal.SIGKILL)
        self.child.wait()

    def end(self):
        """Wait for the program's own end; its exit code."""
        until = time.monotonic() + PATIENCE_S
        while self.read() and time.monotonic() < until:
            pass
        self.child.wait()
        return self.child.exitstatus

    def resize(self, columns, rows):
        self.screen.resize(rows, columns)
        self.child.setwinsize(rows, columns)
