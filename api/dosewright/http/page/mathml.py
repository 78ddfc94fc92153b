"""Equations from a short linear notation to MathML.

Names may have a subscript (``E_mean``); factors stand side by side or are parted by ``·``; ``a b / c d`` is one
fraction of two products; ``^`` raises; braces group without being shown; text stands in double quotes.
"""

import re
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

__all__ = ["Equation", "equation"]

_TOKEN = re.compile(r'\s*(?:("[^"]*")|([0-9]+(?:\.[0-9]+)?)|([^\W\d_]+(?:_[^\W_]+)?)|(.))', re.DOTALL)
_RELATIONS = frozenset("=≈<>≤≥→⇌,;")
_SUMS = frozenset("+-±−")
_TIMES = frozenset("·×")
_SIGNS = frozenset("Σ∫∏")
_FUNCTIONS = frozenset({"ln", "log", "exp", "min", "max", "sin", "cos", "arcsin", "sqrt"})
_ENDS = frozenset({")", "}", "/", ""}) | _RELATIONS | _SUMS | _TIMES


class Equation(NamedTuple):
    """An equation as MathML, and the names in it."""

    mathml: str
    names: frozenset[str]


def equation(text: str) -> Equation:
    """Translate an equation.

    Raises
    ------
    ValueError
        The notation is broken.
    """
    reader = _Reader(text)
    inside = reader.relation()
    if reader.next:
        raise ValueError(f"{text!r}: {reader.next!r} is left over")
    return Equation(f'<math display="block"><mrow>{inside}</mrow></math>', frozenset(reader.names))


class _Reader:
    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens: Sequence[str] = [found.group().strip() for found in _TOKEN.finditer(text.strip())]
        self.at = 0
        self.names: set[str] = set()

    @property
    def next(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self) -> str:
        token = self.next
        self.at += 1
        return token

    def expect(self, token: str) -> None:
        if self.take() != token:
            raise ValueError(f"{self.text!r}: {token!r} is missing")

    def relation(self) -> str:
        parts = [self.sum()]
        while self.next and self.next in _RELATIONS:
            parts += [_operator(self.take()), self.sum()]
        return "".join(parts)

    def sum(self) -> str:
        parts: list[str] = []
        if self.next and self.next in _SUMS:
            parts.append(_operator(self.take()))
        parts.append(self.product())
        while self.next and self.next in _SUMS:
            parts += [_operator(self.take()), self.product()]
        return "".join(parts)

    def product(self) -> str:
        parts = [self.fraction()]
        while self.next and self.next in _TIMES:
            parts += [_operator(self.take()), self.fraction()]
        return "".join(parts)

    def fraction(self) -> str:
        above = self.run()
        while self.next == "/":
            self.take()
            above = f"<mfrac><mrow>{above}</mrow><mrow>{self.run()}</mrow></mfrac>"
        return above

    def run(self) -> str:
        parts = [self.power()]
        while self.next not in _ENDS:
            parts += ["<mo>&#x2062;</mo>", self.power()]
        return "".join(parts)

    def power(self) -> str:
        base = self.base()
        if self.next == "!":
            base += _operator(self.take())
        if self.next != "^":
            return base
        self.take()
        return f"<msup><mrow>{base}</mrow><mrow>{self.base()}</mrow></msup>"

    def base(self) -> str:
        first = self.take()
        if first.startswith('"'):
            return f"<mtext>{escape(first[1:-1])}</mtext>"
        if first and first[0].isdigit():
            return f"<mn>{first}</mn>"
        if first.partition("_")[0] in _FUNCTIONS:
            return self.function(first)
        if first in {"(", "{"}:
            inside = self.relation()
            self.expect({"(": ")", "{": "}"}[first])
            return f"<mrow><mo>(</mo>{inside}<mo>)</mo></mrow>" if first == "(" else f"<mrow>{inside}</mrow>"
        if first and first in _SUMS:
            return _operator(first) + self.base()
        if first and first[0] in _SIGNS:
            return _sign(first)
        if not first or not first[0].isalpha():
            raise ValueError(f"{self.text!r}: {first!r} stands where a value is wanted")
        self.names.add(first)
        return _name(first)

    def function(self, name: str) -> str:
        if name == "sqrt":
            self.expect("(")
            inside = self.relation()
            self.expect(")")
            return f"<msqrt>{inside}</msqrt>"
        return f"{_name(name)}<mo>&#x2061;</mo>{self.power()}"


def _operator(sign: str) -> str:
    return f"<mo>{escape('−' if sign == '-' else sign)}</mo>"


def _sign(token: str) -> str:
    sign, _, below = token.partition("_")
    return f"<msub><mo>{sign}</mo><mi>{escape(below)}</mi></msub>" if below else f"<mo>{sign}</mo>"


def _name(token: str) -> str:
    letters, _, below = token.partition("_")
    if not below:
        return f"<mi>{escape(letters)}</mi>"
    inner = f"<mn>{below}</mn>" if below.isdigit() else f"<mtext>{escape(below)}</mtext>"
    return f"<msub><mi>{escape(letters)}</mi>{inner}</msub>"
