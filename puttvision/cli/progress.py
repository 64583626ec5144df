"""A progress bar in seconds of clip, on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def clip_progress(
    name: str, *, quiet: bool, doing: str = "measuring"
) -> Iterator[Callable[[float, float], None] | None]:
    """Yield a function of (seconds done, seconds in all), or None where nothing is to be shown."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.completed:.0f} of {task.total:.0f} s of clip"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(f"{doing} {name}", total=None)

        def told(done_s: float, total_s: float) -> None:
            bar.update(task, completed=done_s, total=total_s)

        yield told
