"""What a page holds, as plain data, for every way to write it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

__all__ = ["Block", "Check", "Checklist", "Figure", "Heading", "Lines", "Listing", "Notice", "Page", "Table", "Text"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; the page's title is level 1."""

    text: str
    level: Literal[2, 3] = 2


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; small ones are notes."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Notice:
    """A text that must not be missed, in a frame: a verdict, or a danger."""

    title: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Listing:
    """A numbered list."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table: of rounded texts to be read, or of bare values for a file.

    Attributes
    ----------
    head : sequence of str
        Names of the columns; can be empty.
    rows : iterable of sequences
        Cells; on a page the first of each row names the row.
    small : bool
        Whether it is looked up, not worked from.
    numeric : sequence of bool
        Which columns hold numbers and are aligned at their right; empty for none.
    """

    caption: str
    head: Sequence[str]
    rows: Iterable[Sequence[Any]]
    small: bool = False
    numeric: Sequence[bool] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture as SVG, with the same in words."""

    title: str
    svg: str
    words: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to tick off."""

    title: str
    details: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Checklist:
    """Things to tick off, in order."""

    items: tuple[Check, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    """Room to write by hand."""

    labels: tuple[str, ...]


Block: TypeAlias = Heading | Text | Notice | Listing | Table | Figure | Checklist | Lines


@dataclass(frozen=True, slots=True)
class Page:
    """A whole page."""

    title: str
    blocks: tuple[Block, ...]
