"""The numbers that release 0.2.0 gave to its own examples and invented sites, every digit of them.

Run in a checkout of that release (the commit that raised the version to 0.2.0):
``PYTHONPATH=api:sdk python answers_0_2_0.py > answers_0_2_0.json``.

Each request was answered in process in its own units and in SI. Kept are the numbers, flags, amounts as texts and
absent values of the answers under the names they had then. Items of a list are counted from 0, those that name an input
among those of the same input. Not kept are other texts, and what only repeats the request.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

Value = float | bool | str | None
NOT_RESULTS = frozenset({"units", "warnings", "cautions", "basis", "inputs", "defaults", "question", "version"})
_AMOUNT = re.compile(r"[-+]?\d+(\.\d+)?(e[-+]?\d+)?( \S+)?")


def arithmetic() -> str:
    """Digest of what this processor and this numpy make of the functions that the calculations use."""
    values = np.concatenate([np.geomspace(1e-9, 30, 400), np.linspace(0.01, 3, 400)])
    functions = [np.exp, np.log, np.log10, np.expm1, np.log1p, np.sqrt, np.sin, np.cos, np.arcsinh, np.arctan, np.tanh]
    results = [function(values) for function in functions]
    results += [np.power(values, 1.852), np.power(10.0, -values), np.array([np.sum(values), np.dot(values, values)])]
    results.append(np.array([[function(value) for value in values[::7]] for function in functions]))
    return hashlib.sha256(b"".join(result.tobytes() for result in results)).hexdigest()


def leaves(value: Any, name: str = "") -> Iterator[tuple[str, Value]]:
    """Numbers, flags, amounts and absent values of an answer, each with its name: ``segments.0.velocity``."""
    if isinstance(value, dict):
        for key, part in value.items():
            if key not in NOT_RESULTS:
                yield from leaves(part, f"{name}.{key}" if name else key)
    elif isinstance(value, list):
        seen: Counter[str] = Counter()
        for index, part in enumerate(value):
            place = str(index)
            if isinstance(part, dict) and "input" in part:  # the items of a plan that say what one input moves
                place = f"{part['input']}.{seen[part['input']]}"
                seen[part["input"]] += 1
            yield from leaves(part, f"{name}.{place}")
    elif not isinstance(value, str) or _AMOUNT.fullmatch(value):
        yield name, value


def requests() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Name, calculation and request of each example and each invented site of 0.2.0."""
    import_module("dosewright.calculations.topics")
    for path, entry in import_module("dosewright.calculations.registry").calculations().items():
        yield path, path, dict(entry.example)
    folder = Path(str(import_module("dosewright").__file__)).parent / "scenarios"
    for file in sorted(folder.glob("*.toml")):
        request = tomllib.loads(file.read_text(encoding="utf-8"))
        for part in request.values():
            if isinstance(part, dict) and isinstance(part.get("installed"), dt.date):
                part["installed"] = part["installed"].isoformat()
        yield f"site/plan {file.stem}", "site/plan", request


def record(path: str, request: dict[str, Any]) -> dict[str, Any]:
    """What 0.2.0 answers: a value, or the value of the request's units and the one in SI where the two differ."""
    answer = import_module("dosewright.calculations.running").answer
    entry = import_module("dosewright.calculations.registry").find(path)
    to_builtins = import_module("msgspec").to_builtins
    own, si = (dict(leaves(to_builtins(answer(entry, request, profile=profile)))) for profile in (None, "si"))
    return {name: value if value == si[name] else [value, si[name]] for name, value in own.items()}


def main() -> None:
    """Write the record, one line for each request and each value."""
    version = import_module("dosewright").__version__
    if version != "0.2.0":
        raise SystemExit(f"This is {version}, not 0.2.0.")
    lines = []
    for name, path, request in requests():
        values = ",\n".join(
            f"{json.dumps(field)}:{json.dumps(value)}" for field, value in record(path, request).items()
        )
        lines.append(f'{json.dumps(name)}:{{"request":{json.dumps(request)},\n"answer":{{\n{values}}}}}')
    head = {"version": version, "recorded_by": "answers_0_2_0.py", "arithmetic": arithmetic()}
    body = ",\n".join(lines)
    sys.stdout.write(f'{json.dumps(head, indent=0)[:-2]},\n"answers":{{\n{body}\n}}}}\n')


if __name__ == "__main__":
    main()
