"""The pages that lie ready in calibration/. ``python -m puttvision.printing.ready_made`` writes them anew."""

from __future__ import annotations

from pathlib import Path

from puttvision.files import replacing
from puttvision.printing.board_pdf import board_pdf
from puttvision.printing.guide_pdf import guide_pdf
from puttvision.printing.paper import PAPERS
from puttvision.printing.sheet_pdf import sheets_pdf
from puttvision.resources import shipped

READY_IDS = (0, 1, 2, 3)


def ready_made() -> dict[str, bytes]:
    """Make every ready page, by file name."""
    pages = {
        f"sheet-{sheet_id}-{name}.pdf": sheets_pdf([sheet_id], paper)
        for name, paper in PAPERS.items()
        for sheet_id in READY_IDS
    }
    pages |= {f"lens-board-{name}.pdf": board_pdf(paper) for name, paper in PAPERS.items()}
    return pages | {f"field-guide-{name}.pdf": guide_pdf(paper) for name, paper in PAPERS.items()}


def write_ready_made(folder: Path) -> None:
    """Write every ready page into ``folder``."""
    for name, pdf in ready_made().items():
        with replacing(folder / name) as temporary:
            temporary.write_bytes(pdf)


if __name__ == "__main__":
    write_ready_made(shipped("calibration"))
