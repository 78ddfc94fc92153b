"""The README's code, taken from its fenced blocks."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

README = Path(__file__).parents[2] / "README.md"
SHOWN_ADDRESS = "http://127.0.0.1:8254"
_FENCED = re.compile(r"^(`{3,})([^\n]*)\n(.*?)^\1\s*$", re.MULTILINE | re.DOTALL)


class Block(NamedTuple):
    """A fenced block: the language it is marked with, and its text."""

    language: str
    text: str


def blocks() -> Iterator[Block]:
    """Yield the fenced blocks in order."""
    for found in _FENCED.finditer(README.read_text(encoding="utf-8")):
        yield Block(found[2].strip(), found[3])


def lines_that_start_with(start: str) -> list[str]:
    """Return the lines of all blocks that start so; lines that end with a backslash are joined."""
    joined = (block.text.replace("\\\n", " ") for block in blocks())
    lines = (line.strip().removeprefix("$ ") for text in joined for line in text.splitlines())
    return [line for line in lines if line.startswith(start)]
