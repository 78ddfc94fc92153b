"""Peaks and pipes that look safe and are not: what the other tests of the topic do not hold already."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from assertions import codes
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables.demand import fixtures

PEAK = "demand/peak"
FLOWS = ("peak_flow", "fixture_unit_flow", "probability_flow", "largest_fixture_flow", "all_fixtures_flow")
ADDITIONS = 244


def peak(kinds: list[dict[str, Any]], **changes: Any) -> Any:
    return run(PEAK, {"fixtures": kinds, "units": "us", **changes})


def houses() -> list[tuple[list[dict[str, Any]], dict[str, Any]]]:
    """Random houses and a fixture that is added, the same ones each time."""
    generator = np.random.default_rng(12)
    names = [name for name, one in fixtures().items() if one.flow is not None]
    found: list[tuple[list[dict[str, Any]], dict[str, Any]]] = []
    for _ in range(ADDITIONS):
        chosen = generator.choice(names, size=int(generator.integers(2, 6)), replace=False)
        kinds = [{"fixture": str(name), "count": str(int(generator.integers(1, 4)))} for name in chosen]
        found.append((kinds[1:], kinds[0]))
    return found


def test_a_peak_never_falls_when_a_fixture_is_added() -> None:
    for kinds, added in houses():
        before, after = peak(kinds), peak([*kinds, added])
        for name in FLOWS:
            low, high = getattr(before, name), getattr(after, name)
            assert low is None or high >= low * (1.0 - 1e-12), (name, kinds, added)


def test_a_peak_is_never_below_the_largest_fixture_and_never_none() -> None:
    for kinds, added in houses():
        given = peak([*kinds, added])
        largest = max(fixtures()[one["fixture"]].flow.value for one in (*kinds, added)) / 6.30901964e-5
        assert given.peak_flow >= largest * (1.0 - 1e-9) > 0.0
    for name, listed in fixtures().items():
        if listed.flow is not None:
            assert peak([{"fixture": name}], percentile="50 %").peak_flow > 0.0


@pytest.mark.parametrize(("name", "values"), [
    ("count", ["1", "2", "3", "6"]),
    ("flow", ["1 gal/min", "2 gal/min", "5 gal/min"]),
    ("probability", ["1 %", "5 %", "30 %", "90 %"]),
    ("fixture_units", ["1", "2", "9"]),
])  # fmt: skip
def test_a_peak_never_falls_when_a_figure_rises(name: str, values: list[str]) -> None:
    others = [{"fixture": "water_closet_tank"}, {"fixture": "bathtub"}]
    method = "fixture_units" if name == "fixture_units" else "probability"
    flows = [peak([*others, {"fixture": "shower", name: value}], method=method).peak_flow for value in values]
    assert all(low <= high for low, high in itertools.pairwise(flows))
    assert flows[-1] > flows[0]


def test_without_a_code_the_largest_table_counts_and_each_is_shown() -> None:
    kinds = [{"fixture": "shower", "count": "2"}, {"fixture": "lavatory", "count": "3"}]
    given = peak(kinds)
    flows = {one.curve: one.flow for one in given.curves}
    assert len(flows) >= 3
    assert given.fixture_unit_flow == max(flow for flow in flows.values() if flow is not None)
    assert max(flows.values()) / min(flows.values()) > 1.2
    named = peak([{**one, "fixture_units": "1.4"} for one in kinds], curve="ipc_e103_3")
    assert named.fixture_unit_flow == {one.curve: one.flow for one in named.curves}["ipc_e103_3"]


def test_a_table_without_a_column_for_flush_valves_says_that_it_cannot_be_used() -> None:
    kinds = [{"fixture": "water_closet_valve", "fixture_units": "6"}]
    with pytest.raises(RequestRefused) as refused:
        peak(kinds, curve="illinois_table_n", system="flush_tank")
    (fault,) = refused.value.faults
    assert (fault.pointer, fault.code) == ("/curve", "unknown_choice")
    assert "no column for a flush valve" in fault.message
    assert "illinois_table_n" not in fault.allowed


def test_the_flow_that_is_limited_is_that_of_a_full_tank() -> None:
    given = peak([{"fixture": "shower", "count": "4"}], pump_flow="2 gal/min", tank_draw_down="1 gal")
    assert given.draw_down_time > 0.0
    assert given.supply_limited_flow == given.peak_flow > given.supply_flow


def test_the_lowest_point_decides_on_suction_whatever_else_is_given() -> None:
    copper = {"kind": "pipe", "length": "18 m", "material": "copper_type_l", "nominal_size": "3/4"}
    hill = [copper, {"kind": "elevation", "elevation_change": "12 m"}, copper,
            {"kind": "elevation", "elevation_change": "-20 m"}]  # fmt: skip
    asked = {"segments": hill, "flow": "32 L/min", "inlet_pressure": "115 kPa"}
    for more in ({}, {"required_outlet_pressure": "20 kPa"}, {"pressure_drop_limit": "400 kPa"}):
        given = run("pipe/pressure-drop", {**asked, **more})
        assert [one.field for one in given.warnings if one.code == "below_air_pressure"] == ["segments.2.pressure"]
    assert "below_air_pressure" not in codes(run("pipe/pressure-drop", {**asked, "inlet_pressure": "300 kPa"}))
