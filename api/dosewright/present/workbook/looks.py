"""How cells look."""

from dataclasses import dataclass

__all__ = ["LOOKS", "Look"]

_YELLOW, _BLUE, _GREY, _AMBER, _RED = "#FFF9DB", "#EDF2F7", "#DFE3E6", "#FFEBB8", "#FBDDD6"
_LINE = "#A8B0B8"


@dataclass(frozen=True, slots=True)
class Look:
    """A cell's look.

    `text` keeps what looks like a number or a date as it was typed; `number` shows four decimals, one of large numbers.
    """

    fill: str = ""
    bold: bool = False
    italic: bool = False
    size: int = 10
    colour: str = "#000000"
    wrap: bool = False
    border: str = ""
    text: bool = False
    right: bool = False
    number: bool = False


LOOKS: dict[str, Look] = {
    "plain": Look(),
    "title": Look(bold=True, size=14),
    "note": Look(italic=True, colour="#444444", wrap=True),
    "head": Look(fill=_GREY, bold=True, border=_LINE),
    "tip": Look(size=8, colour="#444444", wrap=True),
    "name": Look(bold=True),
    "wrapped": Look(wrap=True),
    "input": Look(fill=_YELLOW, border=_LINE, right=True),
    "input_text": Look(fill=_YELLOW, border=_LINE, text=True),
    "result": Look(fill=_BLUE, border=_LINE, right=True, number=True),
    "result_text": Look(fill=_BLUE, border=_LINE, wrap=True),
    "unit": Look(fill=_GREY, italic=True, border=_LINE, right=True),
    "count": Look(colour="#444444", right=True),
    "small": Look(size=8, colour="#666666"),
    "raw": Look(size=8, colour="#666666", wrap=True),
    "state": Look(bold=True, wrap=True, border=_LINE),
    "warning": Look(fill=_AMBER, wrap=True, border=_LINE),
    "caution": Look(fill=_RED, wrap=True, border=_LINE),
    "quiet": Look(bold=True, colour="#8A1F11", wrap=True),
}
