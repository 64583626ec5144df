"""``--player`` of the commands that keep what they found in the journal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.drill import catalogue
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import several
from puttvision.errors import JournalError
from puttvision.putts import PuttSheet

if TYPE_CHECKING:
    from puttvision.journal.record import Kept

Player = Annotated[
    str | None, typer.Option("--player", metavar="NAME", help="Keep it in the journal, for this player.")
]
PlayedOn = Annotated[
    str | None,
    typer.Option("--date", metavar="YYYY-MM-DD", help="Day it was played; else the day of the file."),
]
PlayedAt = Annotated[
    str | None,
    typer.Option("--place", metavar="PLACE", help="Where it was played: one of `puttvision places`."),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """For whom, as which day and where a session is to be kept."""

    player: str
    source: Path
    day: date
    where: str
    played_at: str | None = None

    @classmethod
    def of(
        cls,
        player: str | None,
        source: Path,
        day: str | None,
        store: str | None,
        played_at: str | None = None,
    ) -> Keeping | None:
        """Check before the work begins that it can be kept; None where no player was named.

        Raises JournalError for an unknown player or place, or a clip of one who did not consent to
        filming.
        """
        if player is None:
            if day is not None:
                raise typer.BadParameter("--date goes with --player")
            if played_at is not None:
                raise typer.BadParameter("--place goes with --player")
            return None
        from puttvision.journal.people import check_may_keep
        from puttvision.journal.places import check_known
        from puttvision.journal.store import opened, place

        where = place(store)
        with opened(where, make=False) as journal:
            check_may_keep(journal, player, filmed=_is_clip(source))
            if played_at is not None:
                check_known(journal, played_at)
        return cls(player=player, source=source, day=_day(day, source), where=where, played_at=played_at)

    def keep(
        self,
        sheet: PuttSheet,
        card: Scorecard | None = None,
        drill: str | None = None,
        scene: Path | None = None,
    ) -> str:
        """Keep it, with the scene.json of a clip for the review page, and say in a line what was done."""
        from puttvision.journal.record import record
        from puttvision.journal.store import opened
        from puttvision.review.scenes import Scenes

        clip = self.source if _is_clip(self.source) else _clip_beside(self.source, sheet)
        with opened(self.where, make=False) as journal:
            kept = record(
                journal,
                self.player,
                sheet,
                day=self.day,
                card=card,
                rules_text=_rules_text(drill),
                clip=clip,
                place=self.played_at,
            )
            if clip is not None and scene is not None:
                Scenes.beside(journal).keep(clip, scene, anew=kept.new_session)
        return self.said(kept, sheet)

    def said(self, kept: Kept, sheet: PuttSheet) -> str:
        """What keeping did, in a line."""
        if kept.new_session:
            return f"kept in the journal: {self.player}, {kept.day}, {several(len(sheet.putts), 'putt')}"
        same = f"known already: these putts of {self.player} were kept for {kept.day}"
        return f"{same}; the drill was added to them" if kept.new_scorecard else f"{same}; nothing was added"


def _is_clip(source: Path) -> bool:
    return source.suffix.lower() != ".json"


def _clip_beside(putts: Path, sheet: PuttSheet) -> Path | None:
    """The clip that a putts.json was measured from, where it lies in its folder or the one above."""
    name = Path(sheet.clip.file).name if sheet.clip else ""
    places = [folder / name for folder in (putts.resolve().parent, putts.resolve().parent.parent)]
    return next((path for path in places if name and path.is_file()), None)


def _rules_text(drill: str | None) -> str:
    if drill is None:
        return ""
    if drill in catalogue.names():
        return catalogue.text(drill)
    return Path(drill).read_text(encoding="utf-8")


def _day(text: str | None, source: Path) -> date:
    if text is None:
        try:
            return datetime.fromtimestamp(source.stat().st_mtime).date()
        except OSError as err:
            raise JournalError(f"cannot read {source}: {err.strerror or err}") from err
    return day_of(text, "--date")


def day_of(text: str, option: str) -> date:
    """A day as people write it in figures; a usage error where it is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{option}: a day such as 2026-04-30 was due, got {text}") from None
