"""Which lens profile a clip is measured with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.errors import ClipError

if TYPE_CHECKING:
    from puttvision.putt.known_lens import KnownLens
    from puttvision.putt.measure import Options

LensName = Annotated[
    str | None,
    typer.Option(
        "--lens",
        metavar="NAME",
        help="A lens profile of `puttvision lens list`; as it comes, the one of the clip's phone and mode.",
    ),
]


def with_lens(options: Options, clip: Path, name: str | None = None) -> Options:
    """The options with the clip's lens profile, where one is named or its metadata points to one.

    Raises PuttvisionError for a name that is not there or does not fit. A clip that cannot be read is left
    for the measuring to refuse.
    """
    from puttvision.cli.lens_store import folder, known_lens
    from puttvision.clip.source import open_clip

    if options.lens is not None or (name is None and not folder().is_dir()):
        return options
    try:
        with open_clip(clip, capture_rate_hz=options.capture_rate_hz) as opened:
            facts = opened.facts
    except ClipError:
        return options
    lens = known_lens(facts, name)
    return options if lens is None else replace(options, lens=lens)


class SavedLenses:
    """The profiles of `puttvision lens`, for the review page."""

    def names(self) -> list[str]:
        from puttvision.cli.lens_store import all_profiles

        return [profile.name for profile in all_profiles()]

    def of(self, clip: Path, name: str | None, capture_rate_hz: float | None) -> KnownLens | None:
        from puttvision.putt.measure import Options

        return with_lens(Options(capture_rate_hz=capture_rate_hz), clip, name).lens
