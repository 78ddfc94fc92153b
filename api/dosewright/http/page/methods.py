r"""The method sheet of each calculation, in addition to its contract: equations and their symbols, from data files.

A file ``methods/<name>.toml`` of the topic holds ``[[equation]]`` entries (``label`` and ``form``, in LaTeX) and one
table of ``symbols``, whose keys are written as in the equations. It can name the ``tables`` the calculation reads whose
sources disagree. In an equation a letter is a name, with its subscript and a ``\Delta`` or ``\text{d}`` before it;
so is a word in ``\text{…}``.
"""

import importlib
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from dosewright.engine.registry import find
from dosewright.tables import table

__all__ = ["Method", "mathml", "method", "names_in"]

_NAME = re.compile(
    r"(?:\\Delta |\\text\{d\})?(?:\\text\{\w+\}|\\[A-Za-z]+|[A-Za-z])(?:_(?:\\text\{\w+\}|\\[A-Za-z]+|\{\w+\}|\w))?"
)
_NO_NAMES = frozenset(
    (
        "approx", "arcsin", "cdot", "cos", "exp", "frac", "ge", "int", "le", "left", "ln", "log", "max", "min", "pm",
        "quad", "right", "rightleftharpoons", "sin", "sqrt", "sum", "times", "to",
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Method:
    """Equations of a calculation.

    Attributes
    ----------
    equations : tuple of (str, str)
        What it is, and its MathML.
    symbols : tuple of (str, str)
        MathML of a symbol, and its meaning with its unit.
    settled : tuple of (str, str)
        Title of a table, and where its sources disagree and what is taken.
    """

    equations: tuple[tuple[str, str], ...]
    symbols: tuple[tuple[str, str], ...]
    settled: tuple[tuple[str, str], ...] = ()


@cache
def method(path: str) -> Method:
    """Return the equations of a calculation.

    Raises
    ------
    FileNotFoundError
        None are written.
    ValueError
        An equation cannot be read, a symbol in it is not explained, or one explained is in none.
    """
    entry = find(path)
    topic = ".".join(entry.body.__module__.split(".")[:3])  # the package, whatever folder of it the body is in
    source = files(topic) / "methods" / f"{entry.name}.toml"
    data: dict[str, Any] = tomllib.loads(source.read_text(encoding="utf-8"))
    equations = [(str(one["label"]), str(one["form"])) for one in data["equation"]]
    symbols: dict[str, str] = data["symbols"]
    used = {name for _, form in equations for name in names_in(form)}
    explained = {name for symbol in symbols for name in names_in(symbol)}
    if used != explained:
        raise ValueError(f"{path}: symbols used but not explained, or the reverse: {sorted(used ^ explained)}")
    return Method(
        tuple((label, mathml(form, block=True)) for label, form in equations),
        tuple((mathml(symbol), meaning) for symbol, meaning in symbols.items()),
        tuple((table(name).about["title"], table(name).about["settled"]) for name in data.get("tables", ())),
    )


def names_in(form: str) -> Iterator[str]:
    """Yield the names in an equation, as they are written; commands that are no names are left out."""
    for found in _NAME.finditer(form):
        command = re.match(r"\\([A-Za-z]+)", found.group())
        if command is None or command.group(1) not in _NO_NAMES:
            yield found.group()


def mathml(form: str, *, block: bool = False) -> str:
    r"""Return an equation as MathML.

    Parameters
    ----------
    form : str
        LaTeX, e.g. ``\frac{E V}{Q}``.
    block : bool
        Whether it takes lines for itself.

    Raises
    ------
    ValueError
        The library cannot read the LaTeX, or would show it unconverted.
    """
    try:
        written = str(_converter().convert(form, display="block" if block else "inline"))
    except Exception as error:  # the library's own faults share no other class
        raise ValueError(f"{form!r}: {type(error).__name__}") from error
    left = form.replace(r"\{", "").replace(r"\}", "")
    if "\\" in written or "&<" in written or left.count("{") != left.count("}"):
        raise ValueError(f"{form!r}: an unknown command, or a brace without its other")
    return written


@cache
def _converter() -> Any:
    """Return the library, loaded with the first sheet: its table of signs takes a third of a second to read."""
    return importlib.import_module("latex2mathml.converter")
