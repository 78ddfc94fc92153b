"""Placeholder of a value that was sent and could not be read, so that checks of the other values still run.

It counts as given (``is None`` is false). Any other use of it ends the check that uses it.
"""

import contextlib
from typing import Any

__all__ = ["NOT_GIVEN", "UNREAD", "UnknownValueError", "known_only"]


class UnknownValueError(Exception):
    """A check needs a value that could not be read."""


def _end_check(*_: object, **__: object) -> Any:
    raise UnknownValueError


_ARITHMETIC = ("add", "sub", "mul", "matmul", "truediv", "floordiv", "mod", "divmod", "pow", "and", "or", "xor")
_USES = (
    *("bool", "len", "iter", "next", "reversed", "contains", "getitem", "setitem", "getattr", "setattr", "call"),
    *("hash", "str", "repr", "format", "eq", "ne", "lt", "le", "gt", "ge", "float", "int", "index", "complex"),
    *("round", "trunc", "floor", "ceil", "abs", "neg", "pos", "invert"),
    *(f"{side}{name}" for name in _ARITHMETIC for side in ("", "r")),
    *("array", "array_ufunc", "array_function"),
)
# A class property serves isinstance, which would otherwise be False for a value that could be of the class.
_MEMBERS: dict[str, Any] = {f"__{use}__": _end_check for use in _USES} | {"__class__": property(_end_check)}

UNREAD: Any = type("Unread", (), _MEMBERS)()
"""The value that could not be read."""


NOT_GIVEN: Any = object()
"""What a reader returns for a text that says there is no value ("not tested"): the field counts as left out."""


def known_only() -> contextlib.suppress:
    """Skip the rest of a block that needs an unread value: for the items of a list, checked one by one."""
    return contextlib.suppress(UnknownValueError)
