"""Repeated names in one object of a JSON body: a decoder silently keeps the last of them."""

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any, cast

from dosewright.engine.faults import MOST_FAULTS, Fault, RequestRefused, pointer_to
from dosewright.http.problems import ProblemError

__all__ = ["refuse_repeated"]

_END_OF_NAME = re.compile(rb'"[ \t\r\n]*:')


def refuse_repeated(body: bytes, decoded: Any) -> None:
    """Refuse a JSON body in which an object has a name twice.

    The names are counted first: if there are as many as quotes followed by a colon, none was repeated. Where
    there are more, which can also be inside texts, the body is read again to check the names.

    Raises
    ------
    RequestRefused
        With a fault a name.
    ProblemError
        The body is nested too deeply.
    """
    ends = body.count(b'":')
    if ends < body.count(b":"):
        ends = len(_END_OF_NAME.findall(body))
    if type(decoded) is dict and len(cast("dict[str, Any]", decoded)) == ends:
        return
    if _count(decoded) == ends:
        return
    try:
        tree = json.loads(body, object_pairs_hook=_Object, parse_int=str, parse_float=str)
    except RecursionError:
        raise ProblemError("unreadable-body", "The body is not valid JSON: it is nested too deeply.") from None
    faults = [_fault(at, name) for _, (at, name) in zip(range(MOST_FAULTS), _repeated(tree), strict=False)]
    if faults:
        raise RequestRefused(faults)


class _Object(dict[str, Any]):
    """An object as it was written, with the names that it has twice."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.repeated: tuple[str, ...] = ()
        if len(self) < len(pairs):
            self.repeated = tuple(name for name, times in Counter(name for name, _ in pairs).items() if times > 1)


def _count(decoded: Any) -> int:
    """Count the names of all objects; lists of numbers and texts, which can be long, are skipped."""
    found = 0
    waiting: list[Any] = [decoded]
    while waiting:
        one = waiting.pop()
        if type(one) is dict:
            inside = cast("dict[str, Any]", one)
            found += len(inside)
            waiting += [value for value in inside.values() if type(value) is dict or type(value) is list]
        elif type(one) is list:
            entries = cast("list[Any]", one)
            if entries and type(entries[0]) in {dict, list}:
                waiting += entries
    return found


def _repeated(tree: Any) -> Iterator[tuple[str, str]]:
    """Yield (pointer of the object with its closing slash, name) of each repeated name."""
    waiting: list[tuple[str, Any]] = [("/", tree)]
    while waiting:
        at, one = waiting.pop()
        if isinstance(one, _Object):
            yield from ((at, name) for name in one.repeated)
            waiting += [(f"{pointer_to(at, name)}/", value) for name, value in one.items()]
        elif isinstance(one, list):
            waiting += [(f"{at}{index}/", value) for index, value in enumerate(cast("list[Any]", one))]


def _fault(at: str, name: str) -> Fault:
    message = f"{name[:64]} was given more than once in one object."
    return Fault(pointer=pointer_to(at, name), code="repeated", message=message)
