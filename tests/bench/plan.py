"""How long a plan takes beside its parts asked alone, and its page as PDF.

Run: .venv/bin/python tests/bench/plan.py
"""

from __future__ import annotations

import time
import tomllib
from importlib.resources import files
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.http import query
from dosewright.present.views import page_html, page_pdf
from dosewright.topics.plan import plan as planning

if TYPE_CHECKING:
    from collections.abc import Callable

ROUNDS, REPEATS = 15, 20


def best(function: Callable[[], Any], repeats: int = REPEATS, rounds: int = ROUNDS) -> float:
    """Milliseconds of the processor for one call, the best of some rounds."""
    found: list[float] = []
    for _ in range(rounds):
        began = time.process_time()
        for _ in range(repeats):
            function()
        found.append((time.process_time() - began) / repeats * 1e3)
    return min(found)


def parts_of(request: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """What a plan asks its parts, as they would be asked alone: read from the question of each."""
    given = run("site/plan", request)
    asked: list[tuple[str, dict[str, Any]]] = []
    for name in ("demand", "water_test", "equipment", "plumbing", "chlorination", "condensation", "clearance"):
        asked += map(question_of, listed(getattr(given, name)))
    return [*asked, *map(question_of, listed(given.commissioning)), *map(question_of, listed(given.upkeep))]


def listed(value: Any) -> list[Any]:
    """Answers of a section: none, one or many."""
    return value if isinstance(value, list) else [] if value is None else [value]


def question_of(answer: Any) -> tuple[str, dict[str, Any]]:
    """Path and values of the question that an answer shows."""
    address = urlsplit(answer.question)
    path = address.path.removeprefix("/v1/")
    values, _ = query.parse(address.query.encode(), query.repeatable_names(find(path)))
    return path, query.nested(values, query.section_names(find(path)))


def main() -> None:
    """Print times and ratios."""
    assert planning.plan.path == "site/plan"
    cases = {"example": dict(find("site/plan").example)}
    for name in ("cottage", "iron_well", "lake_cottage"):
        site = tomllib.loads(
            (files("dosewright.topics.plan") / "scenarios" / f"{name}.toml").read_text(encoding="utf-8")
        )
        if "upkeep" in site:
            site["upkeep"]["installed"] = site["upkeep"]["installed"].isoformat()
        cases[name] = {**site, "sensitivity": False}
    entry = find("site/plan")
    for name, request in cases.items():
        asked = [(find(path), raw) for path, raw in parts_of(request)]
        whole = best(lambda request=request: answer(entry, request))
        parts = best(lambda asked=asked: [answer(one, raw, query=True) for one, raw in asked])
        told = (
            f"{name:13} plan {whole:6.2f} ms, its {len(asked)} parts alone {parts:6.2f} ms, ratio {whole / parts:.2f}"
        )
        turned = best(lambda request=request: answer(entry, {**request, "sensitivity": True}))
        print(f"{told}; as it ships, with sensitivity, {turned:.2f} ms")
    given = run("site/plan", {**cases["cottage"], "sensitivity": True})
    began = time.perf_counter()
    size = len(page_pdf(given))
    print(f"PDF cold {(time.perf_counter() - began) * 1e3:.0f} ms, {size / 1e3:.0f} kB")
    pdf, html = best(lambda: page_pdf(given), 1, 5), best(lambda: page_html(given), 1, 5)
    print(f"PDF warm {pdf:.0f} ms, HTML warm {html:.0f} ms")


if __name__ == "__main__":
    main()
