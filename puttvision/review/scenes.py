"""Scenes of clips kept beside the journal, so that the page can draw over any session whose clip is there.

A scene is kept under the SHA-256 of its clip, which the journal has of each session: a clip that was changed
or exchanged since is told by it, and nothing wrong is drawn. A scene names nobody.
"""

from __future__ import annotations

import hashlib
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

from puttvision.errors import PuttvisionError
from puttvision.files import write_text
from puttvision.journal.history import sessions_of
from puttvision.journal.record import hash_of_file
from puttvision.journal.store import Store, default_file
from puttvision.scene import Scene, load, to_text


class Scenes:
    """All scenes of one journal."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @classmethod
    def beside(cls, store: Store) -> Scenes:
        """Those of a journal: in a folder beside its file, or in the user's data folder for a database."""
        if "://" in store.where:
            name = hashlib.sha256(store.where.encode()).hexdigest()[:12]
            return cls(default_file().parent / f"scenes-{name}")
        file = Path(store.where).expanduser().resolve()
        return cls(file.with_name(f"{file.stem}-scenes"))

    def keep(self, clip: Path, scene: Path, *, anew: bool) -> None:
        """Keep a scene.json for a clip; one that is there already stays unless ``anew``."""
        place = self._place(_hash_now(clip))
        if place is not None and scene.is_file() and (anew or not place.is_file()):
            write_text(place, to_text(load(scene)))

    def find(self, clip_hash: str | None) -> Scene | None:
        """The scene of a clip; None where none was kept, or it cannot be read any more."""
        place = self._place(clip_hash)
        if place is None or not place.is_file():
            return None
        with suppress(PuttvisionError):
            return load(place)
        return None

    def prune(self, store: Store) -> None:
        """Remove the scenes of clips from which the journal keeps no session any more."""
        if not self.folder.is_dir():
            return
        kept = {facts.clip_hash for facts in sessions_of(store)}
        for path in self.folder.glob("*.json"):
            if path.stem not in kept:
                path.unlink(missing_ok=True)
        with suppress(OSError):  # not empty
            self.folder.rmdir()

    def _place(self, clip_hash: str | None) -> Path | None:
        if not clip_hash or not clip_hash.isalnum():
            return None
        return self.folder / f"{clip_hash}.json"


def is_this_clip(path: Path, clip_hash: str | None) -> bool:
    """Whether a file still holds the clip that was measured; True where its hash was not kept."""
    return clip_hash is None or _hash_now(path) == clip_hash


def _hash_now(path: Path) -> str | None:
    try:
        facts = path.stat()
        return _hash(path, facts.st_mtime_ns, facts.st_size)
    except (OSError, PuttvisionError):
        return None


@lru_cache(maxsize=64)
def _hash(path: Path, changed_ns: int, size: int) -> str:  # noqa: ARG001
    """Read once as long as the file is not written to: a film is asked for in many pieces."""
    return hash_of_file(path)
