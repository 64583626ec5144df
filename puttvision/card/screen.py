"""The page on a terminal: prompt_toolkit shows what `page.py` lays out and hands on what is typed.

Plain letters and arrows, no mouse; bold and reversed text carry the meaning, colour only helps.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from collections.abc import Callable, Mapping

from prompt_toolkit.application import Application
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.input import Input
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.layout import FormattedTextControl, Layout, Window
from prompt_toolkit.output import ColorDepth, Output
from prompt_toolkit.styles import Style

from puttvision.card import keys
from puttvision.card.page import Row, help_pages, lay_out
from puttvision.card.session import Session
from puttvision.card.view import help_text
from puttvision.errors import CardError, PuttvisionError

_LOOK_S = 1.0
_STYLE = Style.from_dict(
    {
        "title": "",
        "clock": "bold",
        "figure": "bold",
        "caption": "bold",
        "next": "",
        "changes": "bold",
        "happened": "bold",
        "note": "italic",
        "question": "bold reverse",
        "stake": "bold reverse",
        "alarm": "bold reverse fg:ansired",
        "good": "bold reverse fg:ansigreen",
        "key": "bold underline",
        "legend": "",
    }
)
_ARROWS = {Keys.Left: "left", Keys.Right: "right", Keys.Up: "past", Keys.Down: "short"}


def check_terminal() -> None:
    """CardError where there is no terminal to show the page on."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise CardError(
            "the card needs a terminal (over SSH: ssh -t); for a card on paper add --print card.pdf"
        )
    if os.environ.get("TERM", "") in ("", "dumb", "unknown") and os.name == "posix":
        raise CardError("this terminal cannot show a full page: set TERM, such as TERM=xterm-256color")


def shows_blocks(environment: Mapping[str, str], encoding: str) -> bool:
    """Whether the terminal is said to show block characters: its locale names UTF-8.

    Python takes a bare C locale for UTF-8 (PEP 538, 540) and writes C.UTF-8 into LC_CTYPE: that says
    nothing about the terminal, and figures out of ``#`` can be read on any.
    """
    if not encoding.lower().replace("-", "").startswith("utf"):
        return False
    bare = ("", "C", "POSIX")
    whole, kind, base = (environment.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    kind = "" if base in bare and kind in ("C.UTF-8", "C.utf8") else kind
    named = next((text for text in (whole, kind, base) if text), "")
    return os.name != "posix" or "utf" in named.lower()


class Screen:
    """Shows one session until the scorer closes it."""

    def __init__(self, session: Session, source: Input | None = None, output: Output | None = None) -> None:
        self._session = session
        self._help_page: int | None = None
        self._why_closed = ""
        self._blocks = shows_blocks(os.environ, getattr(sys.stdout, "encoding", None) or "")
        self._app: Application[None] = Application(
            layout=Layout(
                Window(FormattedTextControl(self._text, show_cursor=False), always_hide_cursor=True)
            ),
            key_bindings=self._bindings(),
            style=_STYLE,
            full_screen=True,
            mouse_support=False,
            color_depth=ColorDepth.DEPTH_1_BIT if os.environ.get("NO_COLOR") else None,
            input=source,
            output=output,
        )

    def run(self) -> str:
        """Show the page; returns why it closed by itself, empty where the scorer closed it."""
        self._app.ttimeoutlen = 0.1  # a lone Esc is told from an arrow's first byte, over slow lines too
        self._app.run(pre_run=self._begin, handle_sigint=False)
        return self._why_closed

    def _begin(self) -> None:
        self._app.create_background_task(self._look_after())
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            if hasattr(signal, name) and os.name == "posix":
                loop.add_signal_handler(getattr(signal, name), self._close, "the terminal went away")

    async def _look_after(self) -> None:
        while True:
            await asyncio.sleep(_LOOK_S)
            self._guarded(self._session.tick)
            if self._session.asked_to_hand_over():
                self._close("another window took the card over")
            self._ring()
            self._app.invalidate()

    def _close(self, why: str = "") -> None:
        if not self._app.is_done and self._app.is_running:
            self._why_closed = why
            self._app.exit()

    def _guarded(self, step: Callable[..., None], *args: str) -> None:
        """Run a step of the session; what the disk refuses ends the page, to be said in one line."""
        try:
            step(*args)
        except PuttvisionError as err:
            if not self._app.is_done:
                self._app.exit(exception=err)

    def _ring(self) -> None:
        if self._session.bell and self._session.sound:
            self._app.output.bell()
        self._session.bell = False

    # --- keys ----------------------------------------------------------------------------

    def _bindings(self) -> KeyBindings:
        bindings = KeyBindings()

        @bindings.add(Keys.Any)
        def _(event: KeyPressEvent) -> None:
            self._typed(event.data.lower())

        for arrow, name in _ARROWS.items():
            bindings.add(arrow)(lambda _event, name=name: self._press(name))
        for back in (Keys.Backspace, Keys.Delete):
            bindings.add(back)(lambda _event: self._press(keys.UNDO))
        for end in (Keys.ControlC, Keys.ControlD):
            bindings.add(end)(lambda _event: self._close())
        bindings.add(Keys.Escape)(lambda _event: self._show_help(None))
        bindings.add(Keys.BracketedPaste)(lambda _event: None)
        return bindings

    def _typed(self, letter: str) -> None:
        if letter in ("?", "h"):
            self._show_help(0 if self._help_page is None else self._help_page + 1)
        elif self._help_page is not None:
            self._show_help(None)
        elif letter == "q":
            self._close()
        elif letter == "b":
            self._session.sound = not self._session.sound
            self._session.note = "Sound on" if self._session.sound else "Sound off"
        elif letter in keys.LETTERS:
            self._press(keys.LETTERS[letter])

    def _press(self, name: str) -> None:
        if self._help_page is not None:
            self._show_help(None)
            return
        self._guarded(self._session.key, name)
        self._ring()

    def _show_help(self, page: int | None) -> None:
        self._help_page = page

    # --- text ----------------------------------------------------------------------------

    def _text(self) -> StyleAndTextTuples:
        size = self._app.output.get_size()
        if self._help_page is not None:
            pages = help_pages(help_text(self._session.card), size.columns, size.rows)
            if self._help_page < len(pages):
                more = "?: more, any other key: back" if self._help_page + 1 < len(pages) else "any key: back"
                rows: list[Row] = [[("next", line)] for line in pages[self._help_page]]
                rows += [[] for _ in range(size.rows - 1 - len(rows))]
                return _joined([*rows, [("question", f" {more} ")]])
            self._help_page = None
        return _joined(lay_out(self._session.view(), size.columns, size.rows, self._blocks))


def _joined(rows: list[Row]) -> StyleAndTextTuples:
    pieces: StyleAndTextTuples = []
    for number, row in enumerate(rows):
        if number:
            pieces.append(("", "\n"))
        pieces += [(f"class:{style}" if style else "", text) for style, text in row]
    return pieces
