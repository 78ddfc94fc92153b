"""A page as PDF, tagged so that it can be read aloud, by the Typst compiler.

The page goes in as data and is never read as markup, so nothing a caller wrote can change how it is set.
"""

import json
import threading
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any, Literal, TypeAlias

from dosewright.present.blocks import Block, Figure, Page, Table
from dosewright.present.library import library

__all__ = ["Paper", "as_pdf"]

Paper: TypeAlias = Literal["a4", "letter"]

_PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
_LAYOUT = Path(__file__).with_name("page.typ")
_LONGEST_WEIGHED = 42
_SPARE = 3  # what keeps a narrow column's longest word off its neighbour
_compiling = threading.Lock()


def as_pdf(page: Page, paper: Paper = "a4") -> bytes:
    """Return the page as PDF; the same page always gives the same bytes.

    Raises
    ------
    MissingLibraryError
        The compiler is not installed.
    """
    held = json.dumps({"title": page.title, "blocks": [_plain(block) for block in page.blocks]})
    with _compiling:
        return bytes(_compiler().compile(format="pdf", sys_inputs={"page": held, "paper": _PAPERS[paper]}))


@cache
def _compiler() -> Any:
    typst = library("typst", "PDF pages")
    # The pictures' letters, so that a page looks the same on every machine.
    fonts = Path(library("matplotlib", "PDF pages").get_data_path()) / "fonts" / "ttf"
    return typst.Compiler(str(_LAYOUT), font_paths=[str(fonts)], ignore_system_fonts=True)


def _plain(block: Block) -> dict[str, Any]:
    plain = {"is": type(block).__name__, **asdict(block)}
    if isinstance(block, Table):
        plain["widths"] = _widths(block)
    if isinstance(block, Figure):
        plain["tall"] = _is_tall(block.svg)
    return plain


def _widths(block: Table) -> list[int]:
    """Return the columns' shares of the width, by their longest texts."""
    columns = zip(block.head, *block.rows, strict=True)
    return [max(8, min(_LONGEST_WEIGHED, max(len(cell) for cell in column))) + _SPARE for column in columns]


def _is_tall(svg: str) -> bool:
    box = svg.partition('viewBox="')[2].partition('"')[0].split()
    return len(box) == 4 and float(box[3]) > 0.75 * float(box[2])
