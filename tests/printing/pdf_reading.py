"""Reading a PDF page back by PDFium, which had no part in writing it: pixels, words, objects. y runs down."""

import re

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

PX_PER_MM = 10
MM_PER_POINT = 25.4 / 72
IMAGE = pdfium.FPDF_PAGEOBJ_IMAGE


def raster(pdf, page=0, px_per_mm=PX_PER_MM, from_top_mm=0.0):
    """Grey picture of a page, 0 black to 255 white, from ``from_top_mm`` down.

    A pixel that an edge crosses is grey by area, but PDFium fills a lone rectangle out to whole pixels.
    """
    scale = px_per_mm * MM_PER_POINT * (1 - 1e-6)  # the page is stretched to the next whole pixel up
    crop = (0, 0, 0, from_top_mm / MM_PER_POINT)
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=scale, grayscale=True, crop=crop)
    return bitmap.to_numpy().reshape(bitmap.height, bitmap.width).copy()


def size_mm(pdf, page=0):
    return np.array(pypdfium2.PdfDocument(pdf)[page].get_size()) * MM_PER_POINT


def words(pdf, page=0):
    return " ".join(pypdfium2.PdfDocument(pdf)[page].get_textpage().get_text_bounded().split())


def text_boxes_mm(pdf, page=0):
    """Box around the ink of each run of text: left, top, right, bottom."""
    sheet = pypdfium2.PdfDocument(pdf)[page]
    height = sheet.get_height()
    text = sheet.get_textpage()
    rects = [text.get_rect(i) for i in range(text.count_rects())]
    return [np.array([x0, height - y1, x1, height - y0]) * MM_PER_POINT for x0, y0, x1, y1 in rects]


def holds_image(pdf, page=0):
    return any(o.type == IMAGE for o in pypdfium2.PdfDocument(pdf)[page].get_objects())


def asks_for_full_size(pdf):
    """Whether the file asks the print dialogue not to scale the page."""
    document = pypdfium2.PdfDocument(pdf)
    return not pdfium.FPDF_VIEWERREF_GetPrintScaling(document.raw)


def ink_span_mm(row, px_per_mm=PX_PER_MM):
    """Outer edges of the ink in a row of grey values, edge pixels counted by the share covered."""
    ink = 1 - row.astype(float) / 255
    first, last = np.flatnonzero(ink > 0.02)[[0, -1]]
    return (first + 1 - ink[first]) / px_per_mm, (last + ink[last]) / px_per_mm


def drawing(pdf):
    """Drawing instructions of every page: what a newer library that wraps them may not change."""
    return re.findall(rb"\bstream\r?\n(.*?)endstream", pdf, re.DOTALL)
