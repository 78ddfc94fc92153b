"""Finds the line of a value in a TOML or JSON file, so that a fault is reported with its line.

The readers of both languages keep no places. The text has been read by one of them before, so it is known to be well
formed, and this needs to know no more than where texts, lists and tables begin and end.
"""

import re
import tomllib

__all__ = ["Place", "Places", "line_of", "places"]

Place = tuple[str | int, ...]


class Places(dict[Place, int]):
    """The line of each key and list item, counted from 1; a key given twice has the first.

    Attributes
    ----------
    repeated : list of tuple
        Place and line of each key given again within one table, which JSON allows and nobody means.
    """

    def __init__(self) -> None:
        super().__init__()
        self.repeated: list[tuple[Place, int]] = []


_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SIMPLE = re.compile(r"[^,\]}#\n]*")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_TEXTS = (
    re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)


def places(text: str, *, toml: bool) -> Places:
    """Return the line of each key and list item of a well-formed file, counted from 1."""
    scan = _Scan(text)
    if toml:
        scan.document()
    else:
        scan.blank()
        scan.value(())
    return scan.lines


def line_of(pointer: str, found: dict[Place, int]) -> int | None:
    """Return the line that a JSON pointer leads to, or the nearest above it that the file has."""
    parts = [part.replace("~1", "/").replace("~0", "~") for part in pointer.strip("/").split("/") if part]
    place: Place = tuple(int(part) if part.isdigit() else part for part in parts)
    while place:
        if place in found:
            return found[place]
        place = place[:-1]
    return None


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines = Places()
        self._counts: dict[Place, int] = {}
        self._counted = (0, 1)

    def _line(self) -> int:
        start, line = self._counted
        line += self.text.count("\n", start, self.at)
        self._counted = (self.at, line)
        return line

    def _take(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not well formed at line {self._line()}")
        self.at = found.end()
        return found.group()

    def _peek(self, text: str) -> bool:
        return self.text.startswith(text, self.at)

    def _skip(self, text: str) -> bool:
        if self._peek(text):
            self.at += len(text)
            return True
        return False

    def blank(self) -> None:
        self._take(_BLANK)

    def _quoted(self) -> str | None:
        for pattern in _TEXTS:
            if found := pattern.match(self.text, self.at):
                self.at = found.end()
                return found.group()
        return None

    def _key(self) -> Place:
        parts: list[str] = []
        while True:
            self.blank()
            quoted = self._quoted()
            parts.append(self._take(_BARE) if quoted is None else tomllib.loads(f"key={quoted}")["key"])
            self.blank()
            if not self._skip("."):
                return tuple(parts)

    def document(self) -> None:
        table: Place = ()
        self.blank()
        while self.at < len(self.text):
            line = self._line()
            if self._skip("[["):
                parts = self._key()
                self._skip("]]")
                above = self._resolved((*parts[:-1],))
                array: Place = (*above, parts[-1])
                self._counts[array] = self._counts.get(array, -1) + 1
                table = (*array, self._counts[array])
                self._note((), table, line)
            elif self._skip("["):
                table = self._resolved(self._key())
                self._skip("]")
                self._note((), table, line)
            else:
                self._pair(table)
            self.blank()

    def _resolved(self, parts: Place) -> Place:
        place: Place = ()
        for part in parts:
            place = (*place, part)
            if place in self._counts:
                place = (*place, self._counts[place])
        return place

    def _note(self, table: Place, parts: Place, line: int) -> None:
        for end in range(1, len(parts) + 1):
            self.lines.setdefault((*table, *parts[:end]), line)

    def _pair(self, table: Place) -> None:
        self.blank()
        line = self._line()
        parts = self._key()
        _ = self._skip("=") or self._skip(":")
        if (*table, *parts) in self.lines:
            self.lines.repeated.append(((*table, *parts), line))
        self._note(table, parts, line)
        self.blank()
        self.value((*table, *parts))

    def value(self, place: Place) -> None:
        if self._skip("["):
            self._each(place, "]", keyed=False)
        elif self._skip("{"):
            self._each(place, "}", keyed=True)
        elif self._quoted() is None:
            self._take(_SIMPLE)

    def _each(self, place: Place, end: str, *, keyed: bool) -> None:
        count = 0
        self.blank()
        while not self._skip(end):
            if keyed:
                self._pair(place)
            else:
                self.lines[(*place, count)] = self._line()
                self.value((*place, count))
            count += 1
            self.blank()
            self._skip(",")
            self.blank()
