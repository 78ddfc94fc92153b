"""Examples damaged at random, the same way each time: a request is answered or refused, and nothing else happens."""

from __future__ import annotations

import copy
import json
import random
import time
from typing import Any

import dosewright.topics
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations
from dosewright.engine.run import answer

assert dosewright.topics

CASES = 2000
SECONDS = 20.0
SEED = 12
ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 10**400, 1e308, float("nan"), float("inf"), "", " ", "NaN", "nan mg/L", "-inf L/min",
    "1e999 gal", "9" * 5000, "١٢ gal", "9 µm", "９ gal/min", "\x00", "\ud800", "🚰 gal", "é\u0301", "\u202e9 gal",
    [], {}, [[]], [{}], {"value": None, "unit": "gal"}, {"value": "9", "unit": 3}, {"value": [1, 2], "unit": "gal"},
    {"": ""}, {"kind": []}, "9 smoots", "9 psi psi", "1,5 gal", "--3 gal", "0x10 gal", "present", "<1", "TNTC",
)  # fmt: skip
UNITS = ("gal/min", "m3/s", "degC", "K", "mg/L", "psi", "MPa", "ft", "%", "1", "mJ/cm2", "h")
Place = tuple[Any, Any]  # what holds a value, and its key there


def places(value: Any) -> list[Place]:
    found: list[Place] = []
    for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
        found.append((value, key))
        if isinstance(inner, (dict, list)):
            found += places(inner)
    return found


def damage(draw: random.Random, request: dict[str, Any]) -> None:
    if not request:
        return
    holder, key = draw.choice(places(request))
    given = holder[key]
    match draw.randrange(11):
        case 0:
            del holder[key]
        case 1:
            if isinstance(holder, list):
                holder.insert(key, copy.deepcopy(given))
            else:
                holder[f"{key}_"] = copy.deepcopy(given)
        case 2 | 3:
            holder[key] = copy.deepcopy(draw.choice(ODD))
        case 4:
            amount = str(given).partition(" ")[0]
            holder[key] = f"{amount} {draw.choice(UNITS)}"
        case 5:
            holder[key] = [given] if draw.random() < 0.5 else {key if isinstance(key, str) else "value": given}
        case 6 | 9 | 10:
            amount = str(given).partition(" ")
            power = draw.choice((-2, -1, 1, 2, draw.randint(-400, 400)))
            holder[key] = f"{amount[0]}e{power} {amount[2]}"
        case 7:
            holder[key] = given[: draw.randrange(len(given))] if isinstance(given, (str, list)) and given else [given]
        case _:
            other_holder, other = draw.choice(places(request))
            holder[key] = copy.deepcopy(other_holder[other])


def mutated() -> list[tuple[Any, dict[str, Any], bool]]:
    draw = random.Random(SEED)  # noqa: S311 - the same each time
    entries = list(calculations().values())
    found: list[tuple[Any, dict[str, Any], bool]] = []
    for number in range(CASES):
        entry = entries[number % len(entries)]
        request = json.loads(json.dumps(entry.example, default=dict))
        for _ in range(draw.choice((1, 1, 1, 2, 4))):
            damage(draw, request)
        found.append((entry, request, draw.random() < 0.2))
    return found


def outcome(entry: Any, request: dict[str, Any], *, query: bool, batch: bool) -> list[Any] | None:
    """Return the faults of a refusal, or None; whatever else is raised is passed on with the request."""
    try:
        if batch:
            run_batch(entry.path, request)
        else:
            answer(entry, request, query=query)
    except RequestRefused as refusal:
        return list(refusal.faults)
    except Exception as error:
        raise AssertionError(f"{entry.path} {request!r} (query: {query}, batch: {batch})") from error
    return None


def test_a_damaged_request_is_answered_or_refused() -> None:
    start = time.process_time()
    told = [
        outcome(entry, request, query=query, batch=entry.batch and number % 7 == 0)
        for number, (entry, request, query) in enumerate(mutated())
    ]
    assert time.process_time() - start < SECONDS
    refused = [faults for faults in told if faults is not None]
    assert all(faults and all(fault.code and fault.message for fault in faults) for faults in refused)
    assert len(told) == CASES
    assert CASES // 2 < len(refused) < CASES * 0.95
