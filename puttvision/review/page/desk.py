"""The coach's desk: sessions of the journal and the clips they were measured in, brought together.

All of it is plain calls, no HTTP. A clip becomes a session once it is measured and somebody said whose putts
they are; without a name they are kept under the code ``guest``.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from puttvision.clip.source import open_clip
from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options, Rules
from puttvision.errors import JournalError, PuttvisionError
from puttvision.journal import notes, people
from puttvision.journal.again import measured_again, score_drill
from puttvision.journal.corrections import Corrected, as_it_stands
from puttvision.journal.history import SessionFacts, session_facts, sessions_of
from puttvision.journal.record import record
from puttvision.journal.store import Store
from puttvision.review.page.lenses import Lenses, NoLenses, to_json
from puttvision.review.page.shelf import CLIP_KINDS, SCENE_FILE, Kept, Shelf
from puttvision.review.scenes import Scenes, is_this_clip
from puttvision.scene import Scene, load

GUEST = "guest"
"""The code for putts of a player who is not named."""
_NEWEST = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """The film of a session, as far as it is at hand."""

    clip: Path | None = None
    kept: Kept | None = None
    kept_scene: Scene | None = None
    """Of a clip that does not lie on the page's shelf."""

    def scene(self) -> Scene | None:
        """What overlays draw; None where it was not kept."""
        if self.kept is None or not (self.kept.folder / SCENE_FILE).is_file():
            return self.kept_scene
        return load(self.kept.folder / SCENE_FILE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """See the module. ``who`` is written beside every correction."""

    store: Store
    shelf: Shelf
    who: str
    lenses: Lenses = field(default_factory=NoLenses)

    # --- sessions -----------------------------------------------------------------------------

    def sessions(self) -> list[SessionFacts]:
        """The newest sessions, newest first."""
        return list(reversed(sessions_of(self.store, limit=_NEWEST)))

    def facts(self, session: int) -> SessionFacts:
        return session_facts(self.store, session)

    def stands(self, session: int) -> Corrected:
        return as_it_stands(self.store, session)

    def footage(self, session: int) -> Footage:
        """Clip and scene of a session: from the page's shelf, else the clip where it lay when it was kept,
        if it is the same clip still, and the scene kept beside the journal."""
        facts = self.facts(session)
        kept = self.shelf.of_session(session, self.store.where)
        scene = Scenes.beside(self.store).find(facts.clip_hash)
        if kept is not None:
            return Footage(clip=kept.clip, kept=kept, kept_scene=scene)
        path = Path(facts.clip_path) if facts.clip_path else None
        if path is None or path.suffix.lower() not in CLIP_KINDS or not path.is_file():
            return Footage()
        if not is_this_clip(path, facts.clip_hash):
            return Footage()
        return Footage(clip=path, kept_scene=scene)

    def notes(self, session: int) -> list[dict[str, Any]]:
        """Notes on a session and its putts, oldest first."""
        found = notes.notes_of(self.store, session_id=session)
        return [{"id": one.id, "putt": one.putt, "who": one.who, "text": one.text} for one in found]

    def add_note(self, session: int, putt: int | None, text: str) -> None:
        """Keep a note on a session or on one putt of it."""
        notes.add_note(self.store, text, self.who, session_id=session, putt=putt)

    def remove_note(self, session: int, note: int) -> None:
        """Take a note away; JournalError where there is none such."""
        if note not in {one.id for one in notes.notes_of(self.store, session_id=session)}:
            raise JournalError("this note is gone already")
        notes.remove_note(self.store, note)

    def score(self, session: int, drill: str, options: dict[str, Any]) -> bool:
        """Score one more drill; False where it was scored already."""
        return score_drill(self.store, session, rules_for(drill, options), catalogue.text(drill))

    # --- clips --------------------------------------------------------------------------------

    def players(self) -> list[str]:
        return [player.name for player in people.list_players(self.store)]

    def needs_consent(self, player: str) -> bool:
        """Whether the coach must say that this player agreed to being filmed."""
        known = {facts.name: facts for facts in people.list_players(self.store)}
        return player == GUEST or player not in known or known[player].consent_at is None

    def check_player(self, player: str, *, consent: bool) -> None:
        """JournalError where filming this player was not agreed to, or no such player is kept."""
        if player != GUEST and player not in self.players():
            raise JournalError(f'no player "{player}" is in the journal: choose one of the list')
        if self.needs_consent(player) and not consent:
            raise JournalError("say first that everyone in the picture agreed to being filmed")

    def lens(self, clip: Path, marks: dict[str, Any]) -> dict[str, Any]:
        """The lens profile a clip is to be measured with, for the order; empty where there is none."""
        known = to_json(self.lenses.of(clip, marks.get("lens"), marks.get("capture_rate_hz")))
        return {} if known is None else {"known_lens": known}

    def check_lens(self, name: str) -> None:
        """PuttvisionError where a profile is named that is not kept."""
        if name and name not in self.lenses.names():
            raise PuttvisionError("this lens profile is not kept on this computer: choose one of the list")

    def keep(self, clip: Kept) -> Kept:
        """Keep a measured clip as a session of its player, or in the place of the session it was."""
        about, sheet = clip.about, clip.sheet()
        if self.is_kept(clip) and about.session is not None:
            measured_again(self.store, about.session, sheet, self.stands(about.session).version)
            return clip
        player = about.player or GUEST
        self.check_player(player, consent=about.consent)
        if player == GUEST and GUEST not in self.players():
            people.add_player(self.store, GUEST, consent=True)
        if about.consent:
            people.give_consent(self.store, player)
        day = date.fromisoformat(about.day) if about.day else date.today()
        kept = record(self.store, player, sheet, day=day, clip=clip.clip)
        if about.drill:
            self.score(kept.session, about.drill, about.drill_options)
        return self.shelf.note(clip, session=kept.session, journal=self.store.where, error="")

    def is_kept(self, clip: Kept) -> bool:
        """Whether a clip's session is in this journal, still."""
        about = clip.about
        if about.session is None or about.journal != self.store.where:
            return False
        with suppress(JournalError):
            self.stands(about.session)
            return True
        return False


def clip_facts(clip: Path, capture_rate_hz: float | None = None) -> dict[str, Any]:
    """What the player of the page needs to know of a clip."""
    with open_clip(clip, capture_rate_hz=capture_rate_hz, threads=1) as opened:
        facts = opened.facts
        return {
            "width": facts.width,
            "height": facts.height,
            "rate_hz": facts.nominal_rate_hz,
            "time_scale": facts.time_scale,
            "codec": facts.codec,
        }


def still_jpeg(clip: Path) -> bytes:
    """A picture of the clip, upright and in full size, to place marks in: in the view that is measured in."""
    import cv2
    import numpy as np

    from puttvision.green.align import align
    from puttvision.green.still import still_picture
    from puttvision.putt.measure import sampled

    with open_clip(clip, threads=1) as opened:
        full_range = opened.facts.full_range
        found = align([(f.luma, *f.chroma()) for f in opened.sample(3)])
        if found.n_left_out:  # the tripod was moved: look where it stood, as measuring does
            found = align([(f.luma, *f.chroma()) for f in sampled(opened)])
            still = still_picture(found.pictures)
        else:
            still = still_picture(found.pictures[len(found.pictures) // 2 :][:1])
    if still is None:
        raise PuttvisionError(f"{clip.name}: no picture could be read")
    luma = still.luma if full_range else cv2.convertScaleAbs(still.luma, None, 255 / 219, -18.6)
    height, width = luma.shape
    cb, cr = (cv2.resize(plane, (width, height)) for plane in (still.cb, still.cr))
    picture = cv2.cvtColor(np.dstack([luma, cr, cb]), cv2.COLOR_YCrCb2BGR)
    ok, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 88])
    if not ok:
        raise PuttvisionError(f"{clip.name}: no picture could be made")
    return bytes(data)


def rules_for(drill: str, options: dict[str, Any]) -> Rules:
    """A catalogue drill with its options; DrillError where they do not fit."""
    return with_options(catalogue.load(drill), Options(**options))


def drills() -> list[tuple[str, str]]:
    """Name and title of every drill of one player that the catalogue has."""
    found = [(name, catalogue.load(name)) for name in catalogue.names()]
    return [(name, rules.title) for name, rules in found if not rules.two_players]
