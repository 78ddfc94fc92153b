"""Over many random requests: no lower bound is above its value, in any calculation on ultraviolet light."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import msgspec
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations, find
from dosewright.engine.run import answer
from invented_chamber import CHAMBER
from strategies import requests_near

if TYPE_CHECKING:
    from collections.abc import Iterator

REQUESTS = 300  # a calculation
# What each bound is a bound of, by its name: a new bound that is not listed here fails the first test below.
VALUE_OF = {
    "flow_lower_bound": "derated_flow",
    "red_lower_bound": "red_upper_bound",
    "dose_lower_bound": "dose_at_flow",
    "highest_flow_lower_bound": "highest_flow",
    "log_lower_bound": "log_inactivation",
}
OTHER_PAIRS = {
    "optimistic_lowest_uvt": "lowest_uvt",
    "optimistic_lowest_lamp_ageing_factor": "lowest_lamp_ageing_factor",
    "optimistic_lowest_sleeve_fouling_factor": "lowest_sleeve_fouling_factor",
    "low": "high",
    "least": "mean",
}
CHAMBERS = {**CHAMBER, "target_dose": "20 mJ/cm2"}
POINT = {"rated_flow": "45 L/min", "uvt": "95 %", "dose": "40 mJ/cm2", "lamp_ageing_factor": "80 %"}
POINTS = [POINT, {**POINT, "rated_flow": "20 L/min", "uvt": "75 %"}, {**POINT, "rated_flow": "30 L/min", "uvt": "85 %"}]
SPREADS = [{"kind": "standard", "of": "uvt", "uncertainty": "1 %"}]
MORE: dict[str, dict[str, Any]] = {
    "uv/dose": {"flow": "20 L/min", "distribution": True},
    "uv/derated-flow": {"peak_flow": "20 L/min", "safety_factor": "1.1"},
    "uv/derating-curve": {"uvts": "75, 85, 95 %", "sleeve_fouling_factors": "70, 100 %", "peak_flow": "20 L/min"},
    "uv/limits": {"flow": "20 L/min"},
    "uv/uncertainty": {"flow": "20 L/min", "spreads": SPREADS, "draws": "200", "coverage": "95 %"},
}
ORGANISMS: list[dict[str, Any]] = [
    {},
    {"inactivation_rate": "0.12 cm2/mJ"},
    {"inactivation_rate": "0.001 cm2/mJ"},
    {"dose_response": {"kind": "multi_target", "rate": "0.05 m2/J", "targets": "20"}},
    {"dose_response": {"kind": "shoulder", "rate": "0.05 m2/J", "shoulder_dose": "30 mJ/cm2"}},
    {
        "dose_response": {
            "kind": "two_groups",
            "rate": "0.05 m2/J",
            "resistant_fraction": "0.001",
            "resistant_rate": "0.001 m2/J",
        }
    },
    {"dose_response": {"kind": "first_order", "rate": "0.01 m2/J", "floor": "0.001"}},
]
NAMED = [{"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "3"}]
UV = sorted(path for path in calculations() if path.startswith("uv/"))


def examples(path: str) -> list[dict[str, Any]]:
    """Requests to draw near: the calculation's own, and a chamber without hydraulics for every kind of organism."""
    made = [dict(find(path).example)]
    if path in MORE:
        made += [{**CHAMBERS, **MORE[path], **organism} for organism in ORGANISMS]
        made += [{**CHAMBERS, **MORE[path], **ORGANISMS[4], **hydraulics} for hydraulics in NAMED]
    if path == "uv/derated-flow":
        sizes = {name: value for name, value in CHAMBERS.items() if name != "uvc_output"}
        plain = {name: CHAMBERS[name] for name in ("uvt", "lamp_ageing_factor", "target_dose")}
        made += [{**sizes, "rated_points": POINTS[:1], "peak_flow": "9 L/min"}]
        made += [{**plain, "rated_points": POINTS[:number], "peak_flow": "9 L/min"} for number in (2, 3)]
    return made


def structs(value: Any) -> Iterator[dict[str, Any]]:
    """Yield the answer, and every struct in it."""
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from structs(inner)
    elif isinstance(value, list):
        for item in value:
            yield from structs(item)


def names_of_bounds(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        for name, inner in schema.items():
            if name.endswith("_lower_bound"):
                yield name
            yield from names_of_bounds(inner)
    elif isinstance(schema, list):
        for inner in schema:
            yield from names_of_bounds(inner)


def test_every_lower_bound_of_an_answer_is_looked_at() -> None:
    found = {name for path in UV for name in names_of_bounds(msgspec.json.schema(find(path).answer))}
    assert found == set(VALUE_OF)


def compared(given: Any) -> Iterator[tuple[str, float, float]]:
    for struct in structs(given):
        for lower, value in (VALUE_OF | OTHER_PAIRS).items():
            low, high = struct.get(lower), struct.get(value)
            if isinstance(low, float) and isinstance(high, float):
                yield lower, low, high


def has_pairs(path: str) -> bool:
    schema = str(msgspec.json.schema(find(path).answer))
    return any(f"'{lower}'" in schema and f"'{value}'" in schema for lower, value in (VALUE_OF | OTHER_PAIRS).items())


@pytest.mark.parametrize("path", [path for path in UV if has_pairs(path)])
def test_no_lower_bound_is_above_its_value(path: str) -> None:
    bases = [dataclasses.replace(find(path), example=example) for example in examples(path)]
    seen: dict[str, int] = {}
    answered = 0

    @settings(
        max_examples=REQUESTS,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        database=None,
        derandomize=True,
        phases=[Phase.generate],
    )
    @given(request=st.sampled_from(bases).flatmap(requests_near))
    def look(request: dict[str, Any]) -> None:
        nonlocal answered
        try:
            given = msgspec.to_builtins(answer(find(path), request, profile="si"))
        except RequestRefused:
            return
        answered += 1
        for name, low, high in compared(given):
            assert low <= high, (name, low, high)
            seen[name] = seen.get(name, 0) + 1

    look()
    assert answered > REQUESTS // 3
    bounds = set(names_of_bounds(msgspec.json.schema(find(path).answer)))
    assert all(seen.get(name, 0) > REQUESTS // 10 for name in bounds), seen
