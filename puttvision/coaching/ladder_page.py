"""The ladder as a page for the notice board: one self-contained HTML file that prints on one sheet."""

from __future__ import annotations

import html
from collections.abc import Sequence

from puttvision import looks
from puttvision.coaching.ladder import Place

_CSS = """
@page{size:A4;margin:18mm}
body{margin:0;background:var(--paper);color:var(--ink);font:var(--type-lead)/1.5 var(--font)}
main{max-width:var(--measure);margin:auto;padding:var(--space-4)}
h1{font-size:var(--type-title)} table{width:100%;border-collapse:collapse}
td,th{padding:var(--space-2);border-bottom:1px solid var(--rule);text-align:right}
td:nth-child(2),th:nth-child(2){text-align:left}
th{font-weight:400;font-size:var(--type-small);color:var(--soft)} .open td{color:var(--soft)}
td{font-variant-numeric:tabular-nums} p{font-size:var(--type-small);color:var(--soft)}
"""


def ladder_page(title: str, says: str, kind: str, places: Sequence[Place], results: Sequence[str]) -> str:
    """The page as HTML; ``places`` with the names or codes that are to be shown, ``kind`` what counts,
    ``results`` each one's result in words."""
    rows = "".join(
        f"<tr{'' if one.place else ' class=open'}><td>{one.place or ''}</td>"
        f"<td>{html.escape(one.player)}</td><td>{result}</td><td>{one.n}</td></tr>"
        for one, result in zip(places, results, strict=True)
    )
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{html.escape(title)}</title><style>{looks.css()}{_CSS}</style><main>"
        f"<h1>{html.escape(title)}</h1><p>{html.escape(says)}</p>"
        f"<table><tr><th>place</th><th>player</th><th>{kind}</th><th>played</th></tr>"
        f"{rows}</table></main></html>\n"
    )
