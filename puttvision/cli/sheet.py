"""`puttvision sheet`: the printable sheets and the field guide."""

from __future__ import annotations

from contextlib import ExitStack
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from puttvision.errors import PuttvisionError
from puttvision.files import replacing


class PaperName(StrEnum):
    """Papers that `--paper` takes."""

    a4 = "a4"
    letter = "letter"


def sheet(
    ids: Annotated[
        list[int] | None,
        typer.Option("--id", help="Sheet to print, 0 to 9; repeat for several; 0 and 1 as it comes."),
    ] = None,
    paper: Annotated[
        PaperName, typer.Option(case_sensitive=False, help="Paper in the printer.")
    ] = PaperName.a4,
    out: Annotated[Path, typer.Option(help="PDF file to write.")] = Path("sheets.pdf"),
    each: Annotated[
        bool,
        typer.Option("--each", help="One file a sheet, its number in the name: sheets-0.pdf, sheets-1.pdf."),
    ] = False,
    guide: Annotated[
        bool, typer.Option("--guide", help="Write the field guide, too: sheets-guide.pdf beside the sheets.")
    ] = False,
) -> None:
    """Write the sheets to print and lay on the green.

    Print at 100 % ("actual size") and measure the bar: 100.0 mm.
    Two different sheets, one near the ball and one near the hole, are best.
    """
    from puttvision.printing.guide_pdf import guide_pdf
    from puttvision.printing.paper import PAPERS
    from puttvision.printing.sheet_pdf import sheets_pdf

    ids = ids or [0, 1]
    for i in ids:
        if not 0 <= i <= 9:
            raise typer.BadParameter(f"there is no sheet {i}: sheets are 0 to 9.", param_hint="'--id'")
        if ids.count(i) > 1:
            raise typer.BadParameter(f"sheet {i} is there twice: once is enough.", param_hint="'--id'")
    if out.suffix.lower() != ".pdf":
        raise typer.BadParameter(f"{out} is no PDF: end the name in .pdf.", param_hint="'--out'")
    size = PAPERS[paper.value]
    if each:
        pages = {out.with_name(f"{out.stem}-{i}{out.suffix}"): sheets_pdf([i], size) for i in ids}
    else:
        pages = {out: sheets_pdf(ids, size)}
    if guide:
        pages[out.with_name(f"{out.stem}-guide{out.suffix}")] = guide_pdf(size)
    _write(pages)
    for path in pages:
        typer.echo(path)
    typer.echo(f"{size.name}. Print at 100 % (actual size), then measure the bar: 100.0 mm.")


def _write(pages: dict[Path, bytes]) -> None:
    """Write all files, or none where one cannot be made."""
    for path in pages:
        if path.is_dir():
            raise PuttvisionError(f"cannot write {path}: a folder has that name; give --out another")
    try:
        with ExitStack() as stack:
            for path, pdf in pages.items():
                stack.enter_context(replacing(path)).write_bytes(pdf)
    except PuttvisionError as err:
        raise PuttvisionError(f"{err}; give --out a place you may write to") from err
    except OSError as err:
        raise PuttvisionError(
            f"cannot write {path}: {err.strerror or err}; give --out another place"
        ) from err
