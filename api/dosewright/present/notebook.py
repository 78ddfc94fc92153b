"""Writes what people read of an answer as HTML for a notebook."""

import html
from collections.abc import Sequence

from dosewright.present.answer_tables import AnswerView, Table

__all__ = ["as_notebook"]


def as_notebook(view: AnswerView) -> str:
    """Return remarks and tables as one element."""
    inside = [f"<p><strong>{html.escape(view.heading)}</strong></p>"]
    inside += [_note("Warning", "#b25b00", text) for text in view.remarks.warnings]
    inside += [_note("Caution", "#b00020", text) for text in view.remarks.cautions]
    inside += [_note("Row at fault", "#b00020", text) for text in view.remarks.errors]
    inside += [_as_html(table) for table in view.tables]
    notes = "".join(f"<li>{html.escape(text)}</li>" for text in view.remarks.notes)
    inside.append(f"<details><summary>Method, sources, defaults</summary><ul>{notes}</ul></details>")
    return f"<div>{''.join(inside)}</div>"


def _as_html(table: Table) -> str:
    title = f"<caption>{html.escape(table.title)}</caption>" if table.title else ""
    if not table.rows:
        return f"<p>{html.escape(table.title)}</p>"

    def cells(texts: Sequence[str], tag: str) -> str:
        return "".join(
            f'<{tag} style="text-align:{"right" if numeric else "left"}">{html.escape(text)}</{tag}>'
            for text, numeric in zip(texts, table.numeric, strict=True)
        )

    head = f"<thead><tr>{cells(table.header, 'th')}</tr></thead>" if table.header else ""
    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in table.rows)
    return f"<table>{title}{head}<tbody>{body}</tbody></table>"


def _note(kind: str, colour: str, text: str) -> str:
    style = f"border-left:4px solid {colour};padding:2px 8px;margin:4px 0"
    return f'<p role="note" style="{style}"><strong>{kind}:</strong> {html.escape(text)}</p>'
