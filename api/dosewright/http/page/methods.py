"""What the method sheets say of each calculation beside its contract: equations and their symbols, from data files.

A file ``methods/<name>.toml`` of the topic holds ``[[equation]]`` entries (``says`` and ``form``, in the notation of
:mod:`mathml`) and one table of ``symbols``. It may name the ``tables`` the calculation reads whose sources disagree.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from dosewright.engine.registry import find
from dosewright.http.page.mathml import equation
from dosewright.tables import table

__all__ = ["Method", "method"]


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
    told: dict[str, Any] = tomllib.loads(source.read_text(encoding="utf-8"))
    equations = [(str(one["says"]), equation(one["form"])) for one in told["equation"]]
    used = {name for _, translated in equations for name in translated.names}
    symbols: dict[str, str] = told["symbols"]
    if used != set(symbols):
        raise ValueError(f"{path}: symbols used but not explained, or the reverse: {sorted(used ^ set(symbols))}")
    return Method(
        tuple((says, translated.mathml) for says, translated in equations),
        tuple((_inline(symbol), meaning) for symbol, meaning in symbols.items()),
        tuple((table(name).about["title"], table(name).about["settled"]) for name in told.get("tables", ())),
    )


def _inline(symbol: str) -> str:
    return equation(symbol).mathml.replace(' display="block"', "")
