"""``puttvision card``: score a drill by hand on the green, on a full-screen page or on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.card_keeping import keep_card
from puttvision.cli.drill_choice import choose, drill_options
from puttvision.cli.keeping import Keeping, PlayedAt, Player
from puttvision.cli.players import Store
from puttvision.cli.score import Players, Putts, Seed, Strict, Target
from puttvision.cli.sheet import PaperName
from puttvision.drill import catalogue
from puttvision.drill.rules import Options, Rules
from puttvision.drill.words import several
from puttvision.errors import CardError, PuttvisionError
from puttvision.files import replacing

if TYPE_CHECKING:
    from puttvision.card.log import Header
    from puttvision.card.session import Session

CARDS = Path("card-out")
CardDay = Annotated[
    str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="Day it was played; else today.")
]
_FOR_TWO = "a drill for two is kept for both: --players A,B names them, and --player is one of these"


def card(
    drill: Annotated[
        str | None,
        typer.Argument(help="A drill's name, or your own FILE.toml.", show_default=False),
    ] = None,
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Seed = None,
    players: Players = None,
    stake: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What is at stake, named before the start.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Folder for the card; else a new one in card-out/, named by drill, day and time.",
        ),
    ] = None,
    resume: Annotated[
        bool,
        typer.Option("--resume", help="Go on with a card: the one in --out, else the last one in card-out/."),
    ] = False,
    take_over: Annotated[
        bool,
        typer.Option("--take-over", help="As --resume, from another window (a lost connection, say)."),
    ] = False,
    sound: Annotated[bool, typer.Option("--sound/--no-sound", help="The terminal's bell.")] = True,
    player: Player = None,
    date: CardDay = None,
    place: PlayedAt = None,
    store: Store = None,
    print_to: Annotated[
        Path | None,
        typer.Option("--print", metavar="FILE.pdf", help="Write a card on paper instead, one page."),
    ] = None,
    paper: Annotated[
        PaperName, typer.Option(case_sensitive=False, help="Paper in the printer, with --print.")
    ] = PaperName.a4,
) -> None:
    """Score a drill by hand, on the green.

    m made, x missed; g, t, o through, touching or outside the gate; l, r, s, p where a miss went;
    u undo; space: clock; ? rules and keys; q close. Every key is on disk before the page shows it:
    after a closed lid, a lost line or an empty battery, --resume goes on where it broke off.
    """
    options = drill_options(target, putts, strict, seed, players)
    going_on = resume or take_over
    if drill is None and not going_on:
        raise typer.BadParameter("name a drill, or say --resume", param_hint="'DRILL'")
    if print_to is not None:
        if drill is None or going_on:
            raise typer.BadParameter("it goes with a drill, without --resume", param_hint="'--print'")
        _print(drill, options, stake, print_to, paper)
        return
    from puttvision.card.screen import check_terminal
    from puttvision.card.session import rules_of

    if going_on:
        check_terminal()
        folder = _card_of(drill, options, stake, out)
        header = _header_of(folder)
        if player is not None and header.player not in (None, player):
            raise CardError(f"the card in {folder} is of {header.player}: leave --player away")
        player, store = player or header.player, store or header.store
        day = date or ((header.day or header.began[:10]) if player else None)
        place = place or (header.place if player else None)
        keeping = Keeping.of(player, folder / "putts.json", day, store, place)
        _check_two(rules_of(header, str(folder / "card.jsonl")), keeping)
        session = _resume(folder, take_over=take_over, sound=sound)
    else:
        day = date or (datetime.now().date().isoformat() if player else None)
        keeping = Keeping.of(player, (out or CARDS) / "putts.json", day, store, place)
        header = _header(str(drill), options, stake, keeping)
        check_terminal()
        session, folder = _begin(header, out, sound=sound)
    why = _play(session)
    _tell(session, folder, keeping, header, why)


# --- on the screen ---------------------------------------------------------------------------


def _header(drill: str, options: Options, stake: str | None, keeping: Keeping | None) -> Header:
    from puttvision.card.log import Header

    rules = choose(drill, options)
    _check_two(rules, keeping)
    stake = _read(stake).strip() or None if stake else None
    if options.players:
        options = replace(options, players=(_read(options.players[0]), _read(options.players[1])))
    text = catalogue.text(drill) if drill in catalogue.names() else Path(drill).read_text(encoding="utf-8")
    began = datetime.now().astimezone().isoformat(timespec="seconds")
    kept: dict[str, str | None] = {}
    if keeping:
        file = None if "://" in keeping.where else str(Path(keeping.where).expanduser().absolute())
        kept = {
            "player": keeping.player,
            "store": file,
            "day": keeping.day.isoformat(),
            "place": keeping.played_at,
        }
    return Header(drill=drill, rules=text, options=options, stake=stake, began=began, **kept)


def _check_two(rules: Rules, keeping: Keeping | None) -> None:
    """Of a drill for two, both players must be in the journal before the first putt."""
    if keeping is None or rules.two_players is None:
        return
    names = rules.two_players.names
    if keeping.player not in names:
        raise CardError(_FOR_TWO)
    for name in names:
        Keeping.of(name, keeping.source, keeping.day.isoformat(), keeping.where, keeping.played_at)


def _read(text: str) -> str:
    """Words as typed, where the locale (a bare C, say) could not read them."""
    return text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def _header_of(folder: Path) -> Header:
    from puttvision.card.log import read

    return read(folder)[0]


def _begin(header: Header, out: Path | None, *, sound: bool) -> tuple[Session, Path]:
    from puttvision.card.log import new_folder
    from puttvision.card.session import Session

    folder = out if out is not None else new_folder(CARDS, Path(header.drill).stem)
    return Session.begin(folder, header, sound=sound), folder


def _card_of(drill: str | None, options: Options, stake: str | None, out: Path | None) -> Path:
    """The folder of the card to go on with; CardError where it is not the one the words ask for."""
    from puttvision.card.log import latest, read

    folder = out if out is not None else latest(CARDS, drill)
    header = read(folder)[0]
    if drill is not None and drill != header.drill:
        raise CardError(f"the card in {folder} is of {header.drill}, not of {drill}")
    if (options != Options() and options != header.options) or stake not in (None, header.stake):
        raise CardError(
            f"the card in {folder} was begun otherwise: leave the drill's options and --stake away"
        )
    return folder


def _resume(folder: Path, *, take_over: bool, sound: bool) -> Session:
    from puttvision.card.session import Session

    return Session.resume(folder, take_over=take_over, sound=sound)


def _play(session: Session) -> str:
    """Show the page until it is closed; whatever happens, the card is closed properly."""
    from puttvision.card.screen import Screen

    try:
        return Screen(session).run()
    except (EOFError, OSError):
        return "the terminal went away"
    finally:
        session.close()


# --- afterwards ------------------------------------------------------------------------------


def _tell(session: Session, folder: Path, keeping: Keeping | None, header: Header, why: str) -> None:
    """Say how it stands and what is where."""
    from puttvision.card.card import sheet

    scored = session.scored
    over = scored.state != "running"
    failed: PuttvisionError | None = None
    kept = "the journal keeps it once the drill is over, or now: `puttvision score` on its putts.json"
    if keeping and over:  # first: a lost terminal takes no words
        try:
            kept = keep_card(keeping, folder, sheet(session.card), scored, header.rules)
        except PuttvisionError as err:
            failed = err
    if why:
        typer.echo(f"closed: {why}")
    so_far = several(len(session.card.hand.laid), "putt")
    typer.echo(scored.what_next if over else f"so far: {so_far}. Next: {scored.what_next}")
    typer.echo(f"written: {folder / 'putts.json'}, {folder / 'scorecard.json'}")
    if not over:
        where = "" if folder.parent == CARDS else f" --out {folder}"
        typer.echo(f"go on with it: puttvision card --resume{where}")
    if failed is not None:
        again = f"puttvision card --resume --out {folder}"
        raise CardError(f"{failed} (the card is safe: `{again}` and q keeps it later)")
    if keeping:
        typer.echo(kept)


# --- on paper --------------------------------------------------------------------------------


def _print(drill: str, options: Options, stake: str | None, path: Path, paper: PaperName) -> None:
    from puttvision.card.hand import begin
    from puttvision.printing.card_pdf import card_pdf
    from puttvision.printing.paper import PAPERS

    if path.suffix.lower() != ".pdf":
        raise typer.BadParameter(f"{path} is no PDF: end the name in .pdf", param_hint="'--print'")
    rules = choose(drill, options)
    rules = rules if stake is None else replace(rules, stake=stake)
    begin(rules)  # says so where the drill cannot be scored by eye
    if path.is_dir():
        raise PuttvisionError(f"cannot write {path}: a folder has that name; give another")
    with replacing(path) as temporary:
        temporary.write_bytes(card_pdf(rules, PAPERS[paper.value]))
    typer.echo(f"written: {path} ({PAPERS[paper.value].name})")
