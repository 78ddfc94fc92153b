"""Every number of release 0.2.0 is still given, bit for bit, unless it was changed on purpose and announced.

Bit for bit where exp, log and power round as they did when the record was made, which depends on the processor and on
numpy; elsewhere to a relative 1e-9.

``tests/reference/answers_0_2_0.json`` holds what that release answered to its own examples and invented sites;
``answers_since_0_2_0.toml`` the names that changed since, and each number that was changed on purpose with words of
the changelog's line.
"""

from __future__ import annotations

import copy
import fnmatch
import functools
import json
import math
import runpy
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
import pytest

from dosewright.engine.registry import find
from dosewright.engine.run import answer

_TESTS = Path(__file__).parents[1]
_RECORDER = runpy.run_path(str(_TESTS / "reference" / "answers_0_2_0.py"))
_RECORD = json.loads((_TESTS / "reference" / "answers_0_2_0.json").read_text(encoding="utf-8"))
_ANSWERS = _RECORD["answers"]
_SINCE = tomllib.loads((_TESTS / "reference" / "answers_since_0_2_0.toml").read_text(encoding="utf-8"))
_OTHER_ARITHMETIC = 1e-9  # relative; other processors and versions of numpy round exp, log and power otherwise
_SAME_PROCESSOR = _RECORDER["arithmetic"]() == _RECORD["arithmetic"]
_ADVICE = "add a changelog line and an entry with its reason to answers_since_0_2_0.toml, or correct the code"

Number = float | bool | str | None  # a text is an amount with its unit
Pair = tuple[Number, Number]
_ABSENT: Pair = (None, None)


class Leaf(NamedTuple):
    """One number: its name in 0.2.0, its name today, and its old value in the request's units and in SI."""

    old_name: str
    name: str
    old: Pair


def _today(name: str) -> str:
    """Today's name of a recorded answer: calculation, and site where it is one."""
    calculation, _, site = name.partition(" ")
    return f"{_SINCE['calculations'].get(calculation, calculation)} {site}".strip()


def _recorded(name: str) -> Iterator[Leaf]:
    names = _SINCE["names"]
    for old_name, value in _ANSWERS[name]["answer"].items():
        old = tuple(value) if isinstance(value, list) else (value, value)
        yield Leaf(old_name, ".".join(names.get(part, part) for part in old_name.split(".")), old)


def _translated(value: Any) -> Any:
    """A request of 0.2.0 under today's names."""
    if isinstance(value, list):
        return [_translated(part) for part in value]
    if not isinstance(value, dict):
        return value
    names = _SINCE["names"]
    given = {names.get(key, key): _translated(part) for key, part in value.items()}
    if given.get("kind") == "device":
        points = [
            {"rated_flow": given.pop(f"rated_flow{n}"), "pressure_drop": given.pop(f"rated_pressure_drop{n}")}
            for n in ("", "_2", "_3")
            if f"rated_flow{n}" in given
        ]
        given["rated_points"] = points
    return given


@functools.cache
def _answered(name: str, further: tuple[tuple[str, str], ...] = ()) -> dict[str, Pair]:
    """Today's numbers for a recorded request, in its own units and in SI; ``further`` is added to the request."""
    request = copy.deepcopy(_translated(_ANSWERS[name]["request"]))
    for place, value in further:
        *keys, last = (int(key) if key.isdigit() else key for key in place.split("."))
        functools.reduce(lambda part, key: part[key], keys, request)[last] = value
    entry = find(_today(name).partition(" ")[0])
    own, si = (
        dict(_RECORDER["leaves"](msgspec.to_builtins(answer(entry, request, profile=profile))))
        for profile in (None, "si")
    )
    return {field: (own[field], si[field]) for field in own}


def _identical(old: Number, new: Number) -> bool:
    if isinstance(old, str) or isinstance(new, str):
        return old == new
    if old is None or new is None or isinstance(old, bool) or isinstance(new, bool):
        return old is new
    return float(old).hex() == float(new).hex()


def _amount(value: Number) -> float:
    return float(value.partition(" ")[0]) if isinstance(value, str) else float(value or 0.0)


def _same(old: Number, new: Number) -> bool:
    if _identical(old, new) or _SAME_PROCESSOR or None in (old, new):
        return _identical(old, new)
    return math.isclose(_amount(old), _amount(new), rel_tol=_OTHER_ARITHMETIC)


def _entry(answer_name: str, field: str) -> dict[str, Any] | None:
    for entry in _SINCE["changed"]:
        if answer_name in entry["answers"] and any(fnmatch.fnmatchcase(field, each) for each in entry["fields"]):
            return entry
    return None


def _moved_as_listed(entry: dict[str, Any], old: Pair, new: Pair) -> bool:
    """Whether a value moved in the direction that its entry says."""
    direction, (before, before_si), (after, after_si) = entry["direction"], old, new
    if direction == "appears":
        return before is None and after is not None
    if before is None or after is None:
        return False
    if "within" in entry and not math.isclose(_amount(before_si), _amount(after_si), rel_tol=entry["within"]):
        return False
    if direction == "unit":
        return _same(before_si, after_si)
    rise = _amount(after) - _amount(before)
    return {"lower": rise < 0, "higher": rise > 0, "any": True}[direction]


def _complaint(name: str, leaf: Leaf) -> str | None:
    """What is wrong with a number today, if anything."""
    new = _answered(name).get(leaf.name)
    where = f"{_today(name)}, {leaf.name} (0.2.0: {leaf.old_name}): {leaf.old!r} became {new!r}"
    entry = _entry(_today(name), leaf.name)
    if entry is None:
        same = new is not None and all(map(_same, leaf.old, new))
        return None if same else f"{where}; {_ADVICE}"
    if new is None or entry["direction"] == "gone":
        if entry["direction"] != "gone" or new not in (None, _ABSENT):
            return f"{where}; listed as {entry['direction']}"
    elif leaf.old == new == _ABSENT:
        return None  # as the velocity of a device among those of pipes
    elif all(map(_identical, leaf.old, new)):
        return f"{where}; it is listed as changed and did not change: remove the entry"
    elif not _moved_as_listed(entry, leaf.old, new):
        return f"{where}; listed as {entry['direction']}"
    if "same_with" in entry:
        again = _answered(name, tuple(entry["same_with"].items())).get(leaf.name)
        if again is None or not all(map(_same, leaf.old, again)):
            return f"{where}, and {again!r} with {entry['same_with']}; {_ADVICE}"
    return None


@pytest.mark.parametrize("name", _ANSWERS)
def test_gives_the_numbers_of_0_2_0(name):
    complaints = [found for leaf in _recorded(name) if (found := _complaint(name, leaf))]
    assert not complaints, "\n".join(complaints)


def test_record_is_that_of_the_release():
    assert _RECORD["version"] == "0.2.0"
    assert len(_ANSWERS) == 32
    assert sum(len(each["answer"]) for each in _ANSWERS.values()) > 2400


def test_every_entry_fits_a_number():
    changes = {_today(name): [leaf.name for leaf in _recorded(name) if _changed(name, leaf)] for name in _ANSWERS}
    idle = [
        f"{answer_name}: {field}"
        for entry in _SINCE["changed"]
        for answer_name in entry["answers"]
        for field in entry["fields"]
        if not fnmatch.filter(changes.get(answer_name, []), field)
    ]
    assert not idle, f"remove from answers_since_0_2_0.toml what fits no changed number of 0.2.0: {idle}"


def _changed(name: str, leaf: Leaf) -> bool:
    new = _answered(name).get(leaf.name)
    return new is None or not all(map(_identical, leaf.old, new))


def test_every_new_name_is_of_use():
    answers = {part for each in _ANSWERS.values() for field in each["answer"] for part in field.split(".")}
    requests = json.dumps([each["request"] for each in _ANSWERS.values()])
    idle = [name for name in _SINCE["names"] if name not in answers and f'"{name}":' not in requests]
    assert not idle, f"remove from answers_since_0_2_0.toml what no request or answer of 0.2.0 has: {idle}"


def test_every_changed_number_is_in_the_changelog():
    changelog = (_TESTS.parent / "CHANGELOG.md").read_text(encoding="utf-8")
    section = changelog.partition("\n## 0.3.0")[2].partition("\n## ")[0].replace("\n  ", " ")
    missing = {entry["changelog"] for entry in _SINCE["changed"] if entry["changelog"].lower() not in section.lower()}
    assert not missing, f"CHANGELOG.md announces no such change under 0.3.0: {sorted(missing)}"
