"""Composed calculations: typed requests in SI, sections declared as data, numbers equal bit for bit."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

import msgspec
import pytest

import dosewright.topics  # noqa: F401 - registers the calculations
from dosewright.engine.compose import Composer, Part
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.section import RawSection
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.http import query
from dosewright.topics.pipe.contracts.pressure_drop import FittingSegment, PipeSegment, PressureDropRequest
from dosewright.topics.pipe.contracts.velocity import VelocityRequest
from sites import SITES, site

FLOW = 1.0 / 1733.0  # m3/s; no text in gal/min reads back to it


def velocity(flow: float) -> VelocityRequest[float]:
    """What a section asks of a flow, in SI."""
    return VelocityRequest(flow=flow, bore=0.0203, water_temperature=281.15)


SECTION: Part[float] = Part("velocity", "pipe/velocity", velocity)


def test_a_typed_request_is_taken_as_si_whatever_the_units_of_the_answer() -> None:
    composer = Composer("us")
    found = composer.ask_part(SECTION, FLOW, None)
    alone = run("pipe/velocity", VelocityRequest(flow=FLOW, bore=0.0203, water_temperature=281.15, units="si"))
    assert found.velocity == alone.velocity
    composer.write()
    assert found.units["velocity"] == "ft/s"
    assert found.velocity == alone.velocity / 0.3048
    assert found.inputs == alone.inputs


def test_items_of_a_typed_request_are_taken_as_si() -> None:
    segments = [
        PipeSegment(length=10.5, material="copper_type_l", nominal_size="3/4"),
        FittingSegment(fitting="elbow_90", count=7),
    ]
    request: Any = PressureDropRequest(flow=FLOW, water_temperature=281.15, segments=segments)
    alone = run("pipe/pressure-drop", msgspec.structs.replace(request, units="si"))
    composer = Composer("us")
    found = composer.ask("run", "pipe/pressure-drop", None, request)
    assert found.pressure_drop == alone.pressure_drop
    assert found.inputs == alone.inputs


def test_what_the_caller_gives_replaces_what_a_section_is_built_with() -> None:
    composer = Composer("us")
    found = composer.ask_part(SECTION, FLOW, RawSection({"bore": "1 in"}, query=False))
    assert found.inputs["bore"] == pytest.approx(0.0254, rel=1e-15)
    assert found.inputs["flow"] == FLOW
    assert composer.query_parameters == ["velocity.bore=1%20in"]


def test_a_built_request_out_of_bounds_is_refused() -> None:
    composer = Composer(None)
    assert composer.ask_part(SECTION, 7.0, None) is None
    with pytest.raises(RequestRefused) as refused:
        composer.refuse_faults()
    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [("/velocity/flow", "out_of_range")]


def test_what_overflows_its_unit_is_refused_under_its_section() -> None:
    composer = Composer(None)
    found = composer.ask_part(SECTION, FLOW, None)
    found.velocity = 1e308 * 10.0
    with pytest.raises(RequestRefused) as refused:
        composer.write()
    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [("/velocity", "result_not_finite")]


def asked_again(question: str) -> Any:
    """Answer a question as it is shown."""
    address = urlsplit(question)
    entry = find(address.path.removeprefix("/v1/"))
    values, _ = query.parse(address.query.encode(), query.repeatable_names(entry))
    return answer(entry, query.nested(values, query.section_names(entry)), query=True)


@pytest.mark.parametrize("profile", ["us", "metric", "si"])
@pytest.mark.parametrize("name", SITES)
def test_the_question_of_each_section_gives_the_same_bytes(name: str, profile: str) -> None:
    request = {**site(name), "units": profile}
    request["demand"] = {"fixtures": [{"fixture": "shower", "count": "2"}, {"fixture": "kitchen_sink", "count": "1"}]}
    request.pop("peak_flow", None)  # so that the flow comes from a calculation and not from a text
    for uvt in ("81.37 %", "93.3 %", "88.8800001 %"):
        request["water_test"] = {**request["water_test"], "uvt": uvt}
        plan = run("site/plan", request)
        parts = [plan.demand, plan.water_test, *plan.equipment, plan.plumbing, plan.condensation, plan.upkeep]
        parts = [part for part in parts if part is not None]
        assert len(parts) >= 4
        for part in parts:
            assert msgspec.json.encode(asked_again(part.question)) == msgspec.json.encode(part)


def test_numbers_of_a_section_are_those_of_the_calculation_when_no_text_holds_them() -> None:
    composer = Composer("us")
    found = composer.ask_part(SECTION, FLOW, None)
    assert f"flow={FLOW!r}%20m3/s" in found.question
    composer.write()
    assert msgspec.json.encode(asked_again(found.question)) == msgspec.json.encode(found)
