"""What a browser printed to PDF: nothing in the margins, nothing cut where a page ends."""

import pypdfium2

MARGIN_MM = 14


def words_of(path):
    """All words of a PDF in one line."""
    document = pypdfium2.PdfDocument(str(path))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def assert_nothing_is_cut(path):
    """Margins are empty, and so are the last printed rows of a page: what was cut would reach them."""
    scale = 2.0
    edge = MARGIN_MM / 25.4 * 72 * scale
    for number, sheet in enumerate(pypdfium2.PdfDocument(str(path)), start=1):
        picture = sheet.render(scale=scale).to_numpy()[..., :3].min(axis=2)
        rows, columns = picture.shape
        for side in (picture[: int(edge) - 2], picture[int(rows - edge) + 2 :], picture[:, : int(edge) - 2],
                     picture[:, int(columns - edge) + 2 :]):  # fmt: skip
            assert side.min() > 250, f"something lies in the margin of page {number}"
        last = picture[int(rows - edge) - 4 : int(rows - edge) - 1]
        assert not (last < 245).all(axis=0).any(), f"something is cut at the end of page {number}"
