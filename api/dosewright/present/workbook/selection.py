"""Formulas that take single values out of a CSV answer held by one cell, the same in every spreadsheet that can fetch.

Only text functions are used: an XPath function reads numbers in the reader's locale, where 1234.567 is another number.
"""

__all__ = ["count", "number", "quoted_text", "unit"]


def _start(name: str, answer: str) -> str:
    """Return a formula of the place where the value named by another formula begins."""
    return f'FIND(CHAR(10)&{name}&",";{answer})+LEN({name})+2'


def number(name: str, answer: str) -> str:
    """Return a formula of a number; an empty text where the answer has none."""
    start = _start(name, answer)
    found = f'MID({answer};{start};FIND(",";{answer};{start})-({start}))'
    return f'IFERROR(IF(MID({answer};{start};1)=",";"";NUMBERVALUE({found};".";","));"")'


def quoted_text(name: str, answer: str) -> str:
    """Return a formula of a text, which is in quotes if it contains a comma."""
    start = _start(name, answer)
    inside = f'MID({answer};{start}+1;FIND(CHAR(34)&","&CHAR(10);{answer};{start})-({start})-1)'
    quoted = f"SUBSTITUTE({inside};CHAR(34)&CHAR(34);CHAR(34))"
    bare = f'MID({answer};{start};FIND(",";{answer};{start})-({start}))'
    return f'IFERROR(IF(MID({answer};{start};1)=CHAR(34);{quoted};{bare});"")'


def unit(name: str, answer: str) -> str:
    """Return a formula of a number's unit."""
    comma = f'FIND(",";{answer};{_start(name, answer)})'
    return f'IFERROR(MID({answer};{comma}+1;FIND(CHAR(10);{answer};{comma})-{comma}-1);"")'


def count(start: str, answer: str) -> str:
    """Return a formula of how many lines begin with a word and a point."""
    word = f'CHAR(10)&"{start}."'
    return f'(LEN({answer})-LEN(SUBSTITUTE({answer};{word};"")))/LEN({word})'
