"""Every request within the bounds of the fields gives numbers, or a fault at a field."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from answerable_requests import assert_answered_or_refused_by_name
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.flag import FlagField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations
from dosewright.engine.run import answer
from strategies import requests_near

PATHS = sorted(path for path in calculations() if path.startswith("uv/"))
EXTREME = {
    "uv/derating-curve": {"uvts": "1, 50, 100 %"},
    "uv/uncertainty": {"draws": 100},
    "uv/fluence-map": {"radii": None, "positions": None},
}


@st.composite
def at_the_edges(draw, path):
    """Requests with fields at their bounds, or at the values of the example."""
    entry = calculations()[path]
    made = {name: value for name, value in entry.example.items() if value is not None}
    made.update(EXTREME.get(path, {}))
    for field in reader_for(entry.request).fields:
        if field.name not in made and draw(st.integers(0, 5)):
            continue
        if isinstance(field, MeasureField) and field.name not in {"draws", "seed"} and draw(st.booleans()):
            edges = [text for text in (field.measure.at_least, field.measure.at_most) if text]
            if edges:
                made[field.name] = draw(st.sampled_from(edges))
        elif isinstance(field, ChoiceField):
            made[field.name] = draw(st.sampled_from(field.names))
        elif isinstance(field, FlagField):
            made[field.name] = draw(st.booleans())
    return {name: value for name, value in made.items() if value is not None}


@pytest.mark.parametrize("path", PATHS)
@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_near_the_example(path, data):
    assert_answered_or_refused_by_name(path, data.draw(requests_near(calculations()[path])))


@pytest.mark.parametrize("path", PATHS)
@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_at_the_bounds_of_its_fields(path, data):
    assert_answered_or_refused_by_name(path, data.draw(at_the_edges(path)))


@pytest.mark.parametrize("bore", ["25 mm", "25.02 mm", "25.03 mm", "40 mm", "1 m"])
@pytest.mark.parametrize("uvt", ["1 %", "100 %"])
@pytest.mark.parametrize("flow", ["0.01 L/min", "1 m3/s"])
def test_a_sleeve_as_large_as_the_bore_and_thin_and_thick_gaps(bore, uvt, flow):
    base = {**calculations()["uv/dose"].example, "chamber_bore": bore, "uvt": uvt, "flow": flow}
    for hydraulics in ("plug_flow", "tanks_in_series", "laminar"):
        request = {**base, "hydraulics": hydraulics}
        assert_answered_or_refused_by_name("uv/dose", request)
        try:
            answer(calculations()["uv/dose"], request)
        except RequestRefused as refusal:
            codes = {(fault.pointer, fault.code) for fault in refusal.faults}
            wanted = "chamber_impossible" if bore == "25 mm" else "gap_too_thin"
            assert codes == {("/sleeve_outer_diameter", wanted)}
            assert bore in {"25 mm", "25.02 mm"}
        else:
            assert bore not in {"25 mm", "25.02 mm"}
