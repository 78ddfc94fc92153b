"""A page as one HTML file: no script, nothing fetched, everything readable aloud and on paper."""

import base64
import hashlib
from html import escape

from dosewright.present.blocks import Block, Checklist, Figure, Heading, Lines, Listing, Notice, Page, Table, Text

__all__ = ["PAGE_POLICY", "as_html"]

_STYLE = """
:root { color-scheme: light; }
body { font: 1rem/1.5 Georgia, "Liberation Serif", serif; color: #1d2730; background: #fff; max-width: 46rem;
  margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 1rem; }
h2 { font-size: 1.3rem; margin: 2.2rem 0 .6rem; padding-top: .5rem; border-top: 2px solid #0b5563; color: #0b5563; }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .4rem; }
p { margin: .5rem 0; overflow-wrap: anywhere; }
.small { font-size: .85rem; color: #3c4851; }
.notice { border: 2px solid #1d2730; border-left-width: 10px; padding: .6rem 1rem; margin: 1rem 0; }
.notice > h2 { font-size: 1.15rem; margin: 0 0 .4rem; padding: 0; border: 0; color: inherit; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 1rem; font-size: .92rem; }
caption { text-align: left; font-style: italic; padding-bottom: .25rem; }
th, td { text-align: left; vertical-align: top; padding: .28rem .7rem .28rem 0; border-bottom: 1px solid #d3d9dd; }
table.small { font-size: .85rem; }
thead th { border-bottom: 2px solid #56626c; }
tbody th { font-weight: normal; }
tr { break-inside: avoid; }
figure { margin: 1rem 0; break-inside: avoid; }
figure img { max-width: 100%; max-height: 38rem; display: block; }
figcaption { font-size: .85rem; color: #3c4851; margin-top: .3rem; }
.checks { list-style: none; padding: 0; }
.checks > li { display: grid; grid-template-columns: 1.8rem 1fr; padding: .45rem 0; border-bottom: 1px solid #d3d9dd;
  break-inside: avoid; }
.checks input { width: 1.1rem; height: 1.1rem; margin: .2rem 0 0; }
.checks label { font-weight: bold; }
.checks p { grid-column: 2; margin: .15rem 0; font-size: .92rem; }
.lines dt { margin-top: 1.6rem; font-size: .85rem; }
.lines dd { margin: 0; height: 1.8rem; border-bottom: 1px solid #1d2730; }
@media print {
  @page { margin: 16mm; }
  body { margin: 0; max-width: none; font-size: 10.5pt; padding: 0; }
  h2, h3, caption { break-after: avoid; }
}
"""
_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
PAGE_POLICY = f"default-src 'none'; style-src 'sha256-{_HASH}'; img-src data:; base-uri 'none'; form-action 'none'"
"""Content security policy of a page: its own style and pictures, and nothing else."""


def as_html(page: Page) -> bytes:
    """Return the page as HTML."""
    body = "\n".join(_written(block, number) for number, block in enumerate(page.blocks))
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(PAGE_POLICY)}">\n'
        f'<meta name="viewport" content="width=device-width">\n<title>{escape(page.title)}</title>\n'
        f"<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n<h1>{escape(page.title)}</h1>\n{body}\n</main>\n</body>\n"
        "</html>\n"
    ).encode()


def _written(block: Block, number: int) -> str:
    match block:
        case Heading():
            return f"<h{block.level}>{escape(block.text)}</h{block.level}>"
        case Text():
            kind = ' class="small"' if block.small else ""
            return f"<p{kind}>{escape(block.text)}</p>"
        case Notice():
            items = "".join(f"<p>{escape(item)}</p>" for item in block.items)
            return f'<section class="notice"><h2>{escape(block.title)}</h2>{items}</section>'
        case Listing():
            return f"<ol>{''.join(f'<li>{escape(item)}</li>' for item in block.items)}</ol>"
        case Table():
            return _table(block, number)
        case Figure():
            # As an image, since the picture's own styles would need a looser policy.
            source = base64.b64encode(block.svg.encode()).decode()
            picture = f'<img src="data:image/svg+xml;base64,{source}" alt="{escape(block.words)}">'
            return f"<figure>{picture}<figcaption>{escape(block.title)}. {escape(block.words)}</figcaption></figure>"
        case Checklist():
            return _checklist(block, number)
        case Lines():
            return f'<dl class="lines">{"".join(f"<dt>{escape(label)}</dt><dd></dd>" for label in block.labels)}</dl>'


def _table(block: Table, number: int) -> str:
    # The keyboard has to reach the table, since it scrolls where the window is narrow or the letters are wide.
    name = f"table-{number}"
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in block.head)
    rows = "\n".join(
        f'<tr><th scope="row">{escape(first)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in rest)}</tr>'
        for first, *rest in block.rows
    )
    kind = ' class="small"' if block.small else ""
    return (
        f'<div class="wide" role="region" tabindex="0" aria-labelledby="{name}"><table{kind}>'
        f'<caption id="{name}">{escape(block.caption)}</caption>\n<thead><tr>{head}</tr></thead>\n'
        f"<tbody>\n{rows}\n</tbody></table></div>"
    )


def _checklist(block: Checklist, number: int) -> str:
    items: list[str] = []
    for place, check in enumerate(block.items):
        name = f"check-{number}-{place}"
        details = "".join(f"<p>{escape(detail)}</p>" for detail in check.details)
        label = f'<label for="{name}">{escape(check.title)}</label>'
        items.append(f'<li><input type="checkbox" id="{name}">{label}{details}</li>')
    return f'<ol class="checks">{"".join(items)}</ol>'
