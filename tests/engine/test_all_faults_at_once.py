"""Eight faults of eight sorts in one request, nested and conditional ones too: the first answer names them all.

Sorts: unknown field, misspelt unit, value out of range, required field missing, wrong type, item of unknown kind,
unknown name, contradiction between fields.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

import dosewright.topics
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run

assert dosewright.topics

COPPER = {"kind": "pipe", "length": "60 ft", "material": "copper_type_l", "nominal_size": "3/4"}
POINT = {"rated_flow": "12 gal/min", "pressure_drop": "4 psi"}
BAD_SEGMENTS = [
    {**COPPER, "lenght": "3 ft"},
    {**COPPER, "length": "60 foots"},
    {"kind": "device", "rated_points": [POINT, {**POINT, "pressure_drop": "900 MPa"}]},
    {"kind": "elevation"},
    {"kind": "fitting", "fitting": ["elbow_90"]},
    {"kind": "elbow", "count": "2"},
    {**COPPER, "material": "coper_type_l"},
    {"kind": "device", "kv": "3", "cv": "4"},
]
SEGMENT_FAULTS = {
    ("/segments/0/lenght", "unknown_field"),
    ("/segments/1/length", "unit_unknown"),
    ("/segments/2/rated_points/1/pressure_drop", "out_of_range"),
    ("/segments/3/elevation_change", "required"),
    ("/segments/4/fitting", "wrong_type"),
    ("/segments/5/kind", "unknown_choice"),
    ("/segments/6/material", "unknown_choice"),
    ("/segments/7/cv", "conflicting_inputs"),
}
WELL = {"kind": "drilled_casing", "diameter": "6 in", "well_depth": "180 ft", "water_level": "45 ft"}
BAD_VESSELS = [
    {**WELL, "diametre": "6 in"},
    {**WELL, "well_depth": "180 foots"},
    {"kind": "plain_volume", "volume": "900000000 m3"},
    {"kind": "plain_volume"},
    {"kind": "plain_volume", "volume": True},
    {"kind": "presure_tank", "volume": "44 gal"},
    {"kind": "pressure_tank", "volume": "44 gal", "tank": "balloon"},
    {**WELL, "water_level": "190 ft"},
]
VESSEL_FAULTS = {
    ("/vessels/0/diametre", "unknown_field"),
    ("/vessels/1/well_depth", "unit_unknown"),
    ("/vessels/2/volume", "out_of_range"),
    ("/vessels/3/volume", "required"),
    ("/vessels/4/volume", "number_unreadable"),
    ("/vessels/5/kind", "unknown_choice"),
    ("/vessels/6/tank", "unknown_choice"),
    ("/vessels/7/water_level", "contradiction"),
}
TANK = {"kind": "tank", "volume": "300 gal", "baffling": "poor"}
PASSAGE = {"organism": "giardia", "log_inactivation": "1", "water_temperature": "9 degC", "ph": "7.4"}

CASES: dict[str, tuple[dict[str, Any], set[tuple[str, str]]]] = {
    "pipe/pressure-drop": ({"flow": "9 gal/min", "segments": BAD_SEGMENTS}, SEGMENT_FAULTS),
    "pipe/largest-flow": (
        {"segments": BAD_SEGMENTS, "required_outlet_pressure": "20 psi"},
        {*SEGMENT_FAULTS, ("/inlet_pressure", "required")},
    ),
    "chlorine/shock": (
        {"vessels": BAD_VESSELS, "product": {"kind": "listed", "name": "bleach"}, "raw_ph": "7"},
        {*VESSEL_FAULTS, ("/product/name", "unknown_choice"), ("/alkalinity", "required")},
    ),
    "chlorine/contact-time": (
        {
            **PASSAGE,
            "flow": "5 gal/min",
            "residual": "0.8 mg/L",
            "method": "tabel",
            "segments": [
                {**TANK, "bafling": "poor"},
                {**TANK, "volume": "300 gallon_us"},
                {**TANK, "volume": "-3 gal"},
                {"kind": "tank", "volume": "3 gal"},
                {**TANK, "volume": True},
                {"kind": "tnak", "volume": "3 smoots"},
                {**TANK, "baffling_factor": "0.3"},
            ],
        },
        {
            ("/method", "unknown_choice"),
            ("/segments/0/bafling", "unknown_field"),
            ("/segments/1/volume", "unit_unknown"),
            ("/segments/2/volume", "out_of_range"),
            ("/segments/3/baffling", "required"),
            ("/segments/4/volume", "number_unreadable"),
            ("/segments/5/kind", "unknown_choice"),
            ("/segments/5/volume", "unit_unknown"),
            ("/segments/6/baffling_factor", "too_many"),
        },
    ),
    "demand/peak": (
        {
            "fixtures": [
                {"fixture": "shower", "cuont": "2"},
                {"fixture": "shower", "flow": "2 gpms"},
                {"fixture": "shower", "count": "-2"},
                {"count": "2"},
                {"fixture": "shower", "in_use": True},
                {"fixture": "shovver"},
                {"fixture": "shower", "count": "1", "in_use": "2"},
            ],
            "method": "biggest",
            "tank_draw_down": "9 gal",
        },
        {
            ("/fixtures/0/cuont", "unknown_field"),
            ("/fixtures/1/flow", "unit_unknown"),
            ("/fixtures/2/count", "out_of_range"),
            ("/fixtures/3/fixture", "required"),
            ("/fixtures/4/in_use", "number_unreadable"),
            ("/fixtures/5/fixture", "unknown_choice"),
            ("/fixtures/6/in_use", "contradiction"),
            ("/method", "unknown_choice"),
            ("/pump_flow", "required"),
        },
    ),
}


def faults(path: str, request: dict[str, Any]) -> list[tuple[str, str]]:
    with pytest.raises(RequestRefused) as refused:
        run(path, request)
    return [(fault.pointer, fault.code) for fault in refused.value.faults]


@pytest.mark.parametrize("path", CASES)
def test_eight_faults_come_in_the_first_answer(path: str) -> None:
    request, expected = CASES[path]
    told = faults(path, request)
    assert expected <= set(told)
    assert len(told) == len(set(told))


@pytest.mark.parametrize("path", CASES)
def test_nothing_is_named_that_is_not_at_fault(path: str) -> None:
    request, expected = CASES[path]
    assert set(faults(path, request)) == expected


def example(path: str) -> dict[str, Any]:
    return json.loads(json.dumps(find(path).example, default=dict))


def test_a_plan_names_eight_faults_of_its_sections_in_the_first_answer() -> None:
    plan = example("site/plan")
    plan["water_test"] |= {"ironn": "1 mg/L", "e_coli": "present", "total_coliform": "absent"}
    plan["equipment"][0] |= {"target_dose": "40 mJ/cm3"}
    plan["plumbing"]["segments"] = [*BAD_SEGMENTS]
    plan["chlorination"] |= {"vessels": BAD_VESSELS, "rule": "ontario"}
    plan["demand"] = {**CASES["demand/peak"][0]}
    plan["water_temperature"] = "300 degC"
    told = faults("site/plan", plan)
    expected = {
        ("/water_temperature", "out_of_range"),
        ("/water_test/ironn", "unknown_field"),
        ("/water_test/e_coli", "contradiction"),
        ("/equipment/0/target_dose", "unit_unknown"),
        ("/chlorination/rule", "unknown_choice"),
        *((f"/plumbing{pointer}", code) for pointer, code in SEGMENT_FAULTS),
        *((f"/chlorination{pointer}", code) for pointer, code in VESSEL_FAULTS),
        *((f"/demand{pointer}", code) for pointer, code in CASES["demand/peak"][1]),
    }
    assert set(told) == expected
    assert len(told) == len(expected)


@pytest.mark.parametrize("name", ["peak_flow", "water_temperature"])
def test_an_unreadable_value_that_sections_share_makes_no_other_faults(name: str) -> None:
    # 400 showers draw more than a pipe may carry: without the plan's own peak flow theirs would be taken.
    showers = {"fixture": "shower", "count": "400", "in_use": "400", "flow": "180 L/min"}
    plan = {**example("site/plan"), "demand": {"fixtures": [showers]}}
    assert run("site/plan", plan).verdict
    assert faults("site/plan", {**plan, name: "9 smoots"}) == [(f"/{name}", "unit_unknown")]


@pytest.mark.parametrize("section", ["water_test", "equipment", "plumbing", "chlorination"])
def test_a_section_that_cannot_be_read_makes_no_other_faults(section: str) -> None:
    upkeep = {"installed": "2026-05-04", "daily_use": "180 gal/d"}
    plan = {**example("site/plan"), "upkeep": upkeep}
    assert faults("site/plan", {**plan, section: "none"}) == [(f"/{section}", "wrong_type")]


def test_of_an_item_of_unknown_kind_what_no_kind_takes_is_named() -> None:
    item = {"kind": "fliter", "length": "60 smoots", "wide": "3", "count": "2", "kv": "0"}
    with pytest.raises(RequestRefused) as refused:
        run("pipe/pressure-drop", {"flow": "9 gal/min", "segments": [COPPER, item]})
    told = {fault.pointer: fault for fault in refused.value.faults}
    assert {pointer: fault.code for pointer, fault in told.items()} == {
        "/segments/1/kind": "unknown_choice",
        "/segments/1/length": "unit_unknown",
        "/segments/1/wide": "unknown_field",
        "/segments/1/kv": "out_of_range",
    }
    assert "only for what no kind takes" in told["/segments/1/kind"].message
    # The volume of a filter housing may not be what that of a tank may: one of the kinds takes it.
    vessel = {"kind": "barrel", "volume": "0.2 L"}
    assert faults("chlorine/shock", {**CASES["chlorine/shock"][0], "vessels": [vessel]})[0] == (
        "/vessels/0/kind",
        "unknown_choice",
    )


def test_an_item_without_a_kind_is_checked_as_one_of_unknown_kind() -> None:
    request = {"flow": "9 gal/min", "segments": [copy.deepcopy(COPPER), {"length": "9 smoots"}]}
    assert faults("pipe/pressure-drop", request) == [
        ("/segments/1/kind", "required"),
        ("/segments/1/length", "unit_unknown"),
    ]
