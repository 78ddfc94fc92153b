"""HTML by templates: the page of an answer, its table for spreadsheets, its tables in a notebook.

Every value is escaped where a template writes it, and a name that a template does not know is an error. A page is one
file: no script, nothing fetched, everything readable aloud and on paper.
"""

import base64
import hashlib
import importlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.present.answer_tables import AnswerView
from dosewright.present.blocks import Block, Page
from dosewright.present.rows import harmless, plain_text, value_table

if TYPE_CHECKING:
    import jinja2

__all__ = ["PAGE_POLICY", "as_html", "as_notebook", "as_spreadsheet_table", "environment"]

_OWN = "dosewright.present"
_STYLE = Path(__file__).with_name("templates").joinpath("page.css").read_text(encoding="utf-8")
_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
PAGE_POLICY = f"default-src 'none'; style-src 'sha256-{_HASH}'; img-src data:; base-uri 'none'; form-action 'none'"
"""Content security policy of a page: its own style and pictures, and nothing else."""


@cache
def environment(package: str = _OWN) -> "jinja2.Environment":
    """Return the templates of a package, which can use those of this folder.

    The library is loaded when the first template is: an answer that is never written as HTML does not wait for it.
    """
    jinja: Any = importlib.import_module("jinja2")
    loaders = [jinja.PackageLoader(name) for name in dict.fromkeys((package, _OWN))]
    made: jinja2.Environment = jinja.Environment(
        loader=jinja.ChoiceLoader(loaders),
        autoescape=True,
        undefined=jinja.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        auto_reload=False,
    )
    made.filters["kind"] = _kind
    made.filters["base64"] = _base64
    return made


def _kind(block: Block) -> str:
    return type(block).__name__


def _base64(text: str) -> str:
    return base64.b64encode(text.encode()).decode()


def _written(template: str, **values: Any) -> str:
    return environment().get_template(template).render(values)


def as_html(page: Page) -> bytes:
    """Return a page as one HTML file."""
    return _written("page.html", page=page, style=_STYLE, policy=PAGE_POLICY).encode()


def as_notebook(view: AnswerView) -> str:
    """Return remarks and tables as one element for a notebook."""
    return _written("notebook.html", view=view)


def as_spreadsheet_table(answer: Answer | BatchAnswer[Any], *, decimal_comma: bool) -> bytes:
    """Return one HTML table; each number's cell also carries its value as spreadsheets read it in any locale."""
    table = value_table(answer)
    rows = ([_cell(value, decimal_comma=decimal_comma) for value in row] for row in table.rows)
    return _written("answer.html", head=table.head, rows=rows).encode()


def _cell(value: Any, *, decimal_comma: bool) -> tuple[str | None, str]:
    """Return the value that a cell carries where it is a number, and what it shows."""
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value == value:
        return repr(value), plain_text(value, decimal_comma=decimal_comma)
    return None, harmless(plain_text(value))
