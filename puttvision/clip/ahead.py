"""Reading ahead: a clip is decoded in a thread of its own while the pictures before are looked at.

The decoder gives up Python's lock while it works, so that two cores share the job.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import contextmanager
from queue import Empty, Full, Queue
from threading import Event, Thread
from typing import TypeVar

import cv2

Item = TypeVar("Item")

_LOOK_S = 0.1
"""A thread that waits looks this often whether it is still wanted."""


class _End:
    """The last thing a reader hands over: how its source ended."""

    def __init__(self, error: BaseException | None) -> None:
        self.error = error


def read_ahead(source: Iterator[Item], n_most: int) -> Generator[Item, None, None]:
    """Yield what ``source`` yields, in order, while a thread reads up to ``n_most`` items ahead.

    An error in the source is raised here when its turn comes. Where the caller stops early, so does the
    thread, and the source is closed in the thread that read it.
    """
    waiting: Queue[Item | _End] = Queue(maxsize=n_most)
    unwanted = Event()

    def hand_over(item: Item | _End) -> bool:
        while not unwanted.is_set():
            try:
                waiting.put(item, timeout=_LOOK_S)
            except Full:
                continue
            return True
        return False

    def read() -> None:
        end = _End(None)
        try:
            for item in source:
                if not hand_over(item):
                    break
        except BaseException as error:  # handed over and raised again where the items are taken
            end = _End(error)
        finally:
            close = getattr(source, "close", None)
            if close is not None:
                close()
        hand_over(end)

    reader = Thread(target=read, name="reading ahead", daemon=True)
    reader.start()
    try:
        while True:
            try:
                item = waiting.get(timeout=_LOOK_S)
            except Empty:
                continue
            if isinstance(item, _End):
                if item.error is not None:
                    raise item.error
                return
            yield item
    finally:
        unwanted.set()
        reader.join()


@contextmanager
def opencv_on_one_thread() -> Iterator[None]:
    """While this lasts, OpenCV has no helpers: between calls they would spin on the core that decodes."""
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    try:
        yield
    finally:
        cv2.setNumThreads(before)
