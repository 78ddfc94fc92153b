"""Names that are twice in one object of a JSON or MessagePack body: a decoder keeps the last and says nothing."""

import json
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any, cast

import msgspec

from dosewright.engine.faults import MOST_FAULTS, Fault, RequestRefused, pointer_to
from dosewright.http.problems import ProblemError

__all__ = ["refuse_repeated", "refuse_repeated_packed"]

_END_OF_NAME = re.compile(rb'"[ \t\r\n]*:')
_PACK = msgspec.msgpack.Encoder().encode
_UNPACK = msgspec.msgpack.Decoder().decode
_ARRAY, _MAP = 1, 2
# First byte of a value: bytes of its length behind it, bytes of the value beside that length, whether it holds values.
_FORMS: dict[int, tuple[int, int, int]] = {
    0xC4: (1, 0, 0), 0xC5: (2, 0, 0), 0xC6: (4, 0, 0),  # binary data
    0xC7: (1, 1, 0), 0xC8: (2, 1, 0), 0xC9: (4, 1, 0),  # extensions, with their type
    0xCA: (0, 4, 0), 0xCB: (0, 8, 0),  # floats
    0xCC: (0, 1, 0), 0xCD: (0, 2, 0), 0xCE: (0, 4, 0), 0xCF: (0, 8, 0),  # whole numbers without a sign
    0xD0: (0, 1, 0), 0xD1: (0, 2, 0), 0xD2: (0, 4, 0), 0xD3: (0, 8, 0),  # and with one
    0xD4: (0, 2, 0), 0xD5: (0, 3, 0), 0xD6: (0, 5, 0), 0xD7: (0, 9, 0), 0xD8: (0, 17, 0),  # short extensions
    0xD9: (1, 0, 0), 0xDA: (2, 0, 0), 0xDB: (4, 0, 0),  # texts
    0xDC: (2, 0, _ARRAY), 0xDD: (4, 0, _ARRAY), 0xDE: (2, 0, _MAP), 0xDF: (4, 0, _MAP),
}  # fmt: skip


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
    """Return the fault of a name that an object has twice; `at` is the object's pointer with its closing slash."""
    message = f"{name[:64]} was given more than once in one object."
    return Fault(pointer=pointer_to(at, name), code="repeated", message=message)


def refuse_repeated_packed(body: bytes, decoded: Any) -> None:
    """Refuse a MessagePack body in which a map has a name twice.

    What was decoded is packed again first: where that gives the same bytes, no name can have been lost. Otherwise the
    body is read once more, byte by byte of its structure, in a time that grows with its length.

    Raises
    ------
    RequestRefused
        With a fault a name.
    ProblemError
        A name is not text.
    """
    try:
        if _PACK(decoded) == body:
            return
    except (RecursionError, ValueError):
        pass  # it cannot be packed again: read it
    faults = [_fault(at, name) for _, (at, name) in zip(range(MOST_FAULTS), _repeated_packed(body), strict=False)]
    if faults:
        raise RequestRefused(faults)


class _Open:
    """An array or map that is being read."""

    __slots__ = ("left", "names", "step")

    def __init__(self, left: int, names: set[str] | None) -> None:
        self.left = left
        self.names = names
        self.step: str | int = -1


def _repeated_packed(body: bytes) -> Iterator[tuple[str, str]]:
    """Yield (pointer of the map with its closing slash, name) of each name that is twice in a map."""
    # The whole body is the one value of an array that is not named.
    place, inside = 0, [_Open(1, None)]
    while inside:
        now = inside[-1]
        if not now.left:
            inside.pop()
            continue
        now.left -= 1
        if now.names is not None:
            start, (place, _, _) = place, _token(body, place)
            name = _name(body[start:place])
            now.step = name
            if name in now.names:
                yield _pointer(inside[:-1]), name
            now.names.add(name)
        elif isinstance(now.step, int):
            now.step += 1
        place, holds, size = _token(body, place)
        if holds:
            inside.append(_Open(size, set() if holds == _MAP else None))


def _token(body: bytes, place: int) -> tuple[int, int, int]:
    """Return where the value's own bytes end, whether it holds values, and how many."""
    first = body[place]
    place += 1
    if first < 0x80 or first >= 0xE0:
        return place, 0, 0
    if first < 0xA0:
        return place, _MAP if first < 0x90 else _ARRAY, first & 0x0F
    if first < 0xC0:
        return place + (first & 0x1F), 0, 0
    width, fixed, holds = _FORMS.get(first, (0, 0, 0))
    size = int.from_bytes(body[place : place + width], "big")
    place += width
    return (place, holds, size) if holds else (place + fixed + size, 0, 0)


def _name(packed: bytes) -> str:
    name = _UNPACK(packed) if packed[0] < 0x80 or 0xA0 <= packed[0] < 0xDC or packed[0] >= 0xE0 else None
    if not isinstance(name, str):
        raise ProblemError("unreadable-body", "The body is not valid MessagePack for a request: a name is not text.")
    return name


def _pointer(outer: list[_Open]) -> str:
    """Return the pointer of the innermost map with its closing slash; the first of `outer` only holds the body."""
    at = "/"
    for one in outer[1:]:
        at = f"{pointer_to(at, str(one.step))}/"
    return at
