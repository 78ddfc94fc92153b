"""What people type instead of a name or a field is understood, or answered with what they may mean."""

from __future__ import annotations

from typing import Any

import pytest

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright_sdk import InProcess, InvalidRequestError
from sites import site


def messages(path: str, request: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {fault.pointer: fault.message for fault in refusal.value.faults}


@pytest.mark.parametrize(
    ("path", "request_", "pointer", "names"),
    [
        ("demand/peak", {"fixtures": [{"fixture": "toilet"}]}, "/fixtures/0/fixture", ["water_closet_tank"]),
        ("demand/peak", {"fixtures": [{"fixture": "sink"}]}, "/fixtures/0/fixture", ["kitchen_sink", "lavatory"]),
        ("pipe/velocity", {"flow": "9 gpm", "material": "pex"}, "/material", ["pex_sdr9"]),
        ("pipe/velocity", {"flow": "9 gpm", "material": "copper"}, "/material", ["copper_type_l", "copper_type_m"]),
        (
            "chlorine/batch",
            {"product": {"kind": "listed", "name": "bleach"}, "free_chlorine": "50 ppm"},
            "/product/name",
            ["household_bleach_6"],
        ),
    ],
)
def test_a_word_of_every_day_is_answered_with_the_names_meant(
    path: str, request_: dict[str, Any], pointer: str, names: list[str]
) -> None:
    message = messages(path, request_)[pointer]
    assert "Did you mean" in message
    assert [name for name in names if name not in message] == []


def test_a_field_of_an_item_is_answered_with_its_place() -> None:
    assert "Use vessels=plain_volume;volume:" in messages("chlorine/batch", {"volume": "100 gal"})["/volume"]


def test_every_spoken_word_leads_to_a_name_of_a_table() -> None:
    fixtures = {row["fixture"] for row in table("fixtures").rows}
    assert {row["name"] for row in table("spoken_names").rows} <= fixtures


def test_a_misspelt_keyword_is_the_same_fault_as_over_http() -> None:
    door: Any = InProcess()
    for call, kind in ((door.pipe.velocity, "9 gal/min"), (door.pipe.velocity_batch, ["9 gal/min"])):
        with pytest.raises(InvalidRequestError) as refusal:
            call(flw=kind, bore="20 mm")
        found = {fault.pointer: fault.message for fault in refusal.value.faults}
        assert "Did you mean 'flow'?" in found["/flw"]
        assert "/flow" in found


def test_all_faults_of_a_plan_come_at_once() -> None:
    request = site("cottage")
    request["peak_flw"] = "9 gal/min"
    request["water_test"]["irn"] = "1 mg/L"
    request["equipment"][0]["uvt"] = "0.8"
    request["demand"] = {"fixtures": [{"fixture": "toilet"}, {"fixture": "shower", "cont": 2}]}
    request["chlorination"]["vessels"].append({"kind": "pipe", "length": "3 m"})
    request["plumbing"]["segments"].append({"kind": "fitting"})
    request["commissioning"]["line_volum"] = "3 gal"
    found = messages("site/plan", request)
    assert {
        "/peak_flw",
        "/water_test/irn",
        "/equipment/0/uvt",
        "/demand/fixtures/0/fixture",
        "/demand/fixtures/1/cont",
        "/plumbing/segments/6",
        "/commissioning/line_volum",
    } <= set(found)
    assert any(pointer.startswith("/chlorination/vessels/6/") for pointer in found)
