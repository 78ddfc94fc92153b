"""uv/dose as a caller sees it: published values, properties, refusals, warnings. Scenarios are invented."""

import json
import re
from urllib.parse import parse_qsl, urlsplit

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields import Measure
from dosewright.engine.reading.reader import description_of
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.tables import checks, table
from dosewright.topics.uv.contracts.derated_flow import DeratedFlowRequest
from dosewright.topics.uv.contracts.unit import DoseRequest

PATH = "uv/dose"
CABIN = {
    "chamber_bore": "76 mm",
    "sleeve_outer_diameter": "23 mm",
    "sleeve_wall": "1.2 mm",
    "arc_length": "540 mm",
    "chamber_length": "600 mm",
    "uvc_output": "13 W",
    "lamp_ageing_factor": "85 %",
    "sleeve_fouling_factor": "90 %",
    "sleeve_transmittance": "89 %",
    "uvt": "91 %",
    "flow": "20 L/min",
    "target_dose": "40 mJ/cm2",
    "hydraulics": "tanks_in_series",
    "tanks": "4",
    "inactivation_rate": "0.1 cm2/mJ",
    "water_temperature": "8 degC",
}
NUMBERS = [
    "mean_fluence_rate",
    "fluence_rate_at_sleeve",
    "fluence_rate_at_wall",
    "absorption_coefficient",
    "absorbed_share",
    "volume",
    "residence_time",
    "reynolds_number",
    "mean_dose",
    "reduction_equivalent_dose",
    "log_inactivation",
]
BARE = {**CABIN}
for _name in ("hydraulics", "tanks", "inactivation_rate"):
    del BARE[_name]


def ask(**changes):
    return run(PATH, {**CABIN, **changes})


def faults(request):
    with pytest.raises(RequestRefused) as refusal:
        run(PATH, request)
    return {(fault.pointer, fault.code) for fault in refusal.value.faults}


def field_of(given, path):
    for part in path.split("."):
        given = given[int(part)] if part.isdigit() else getattr(given, part)
    return given


@pytest.mark.parametrize("row", checks("uv"), ids=lambda row: row["id"])
def test_published_value(row):
    request = json.loads(row["inputs"])
    request["answer_units"] = {re.sub(r"\.\d+\.", ".", row["field"]): row["unit"]}
    value = field_of(run(row["target"], request), row["field"])
    assert abs(value - float(row["published"])) <= float(row["tolerance"])


def test_check_rows_name_source_status_and_basis():
    for row in checks("uv"):
        assert row["source"], row["id"]
        assert row["section"], row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]


def test_answer_by_hand():
    """Results that follow from the mean fluence rate, by arithmetic."""
    given = ask(units="metric")
    volume = np.pi / 4.0 * (7.6**2 - 2.3**2) * 60.0 / 1000.0
    time = volume / 20.0 * 60.0
    assert given.volume == pytest.approx(volume, rel=1e-12)
    assert given.residence_time == pytest.approx(time, rel=1e-12)
    assert given.absorption_coefficient == pytest.approx(-np.log(0.91), rel=1e-12)
    assert given.mean_dose == pytest.approx(given.mean_fluence_rate * time, rel=1e-12)
    red = 4.0 / 0.1 * np.log(1.0 + 0.1 * given.mean_dose / 4.0)
    assert given.reduction_equivalent_dose == pytest.approx(red, rel=1e-12)
    assert given.log_inactivation == pytest.approx(0.1 * red / np.log(10.0), rel=1e-12)
    lamp = 13.0 * 0.85 * 0.90 * 1000.0
    share = -np.log(0.91) * given.mean_fluence_rate * volume * 1000.0 / lamp
    assert given.absorbed_share == pytest.approx(100.0 * share, rel=1e-12)
    assert given.fluence_rate_at_sleeve > given.mean_fluence_rate > given.fluence_rate_at_wall > 0.0


def test_one_request_in_three_profiles():
    answers = {profile: ask(units=profile) for profile in ("us", "metric", "si")}
    symbols = {name: answers["si"].units.get(name) for name in NUMBERS}
    same = {profile: ask(units=profile, answer_units={k: v for k, v in symbols.items() if v}) for profile in answers}
    for name in NUMBERS:
        values = [getattr(given, name) for given in same.values()]
        assert values == pytest.approx([values[0]] * 3, rel=1e-12)
    spelt = {
        "chamber_bore": {"value": 76 / 25.4, "unit": "in"},
        "arc_length": {"value": 0.54, "unit": "m"},
        "flow": {"value": 20 / 3.785411784, "unit": "gal/min"},
        "uvt": {"value": 0.91, "unit": "1"},
        "target_dose": "400 J/m2",
        "inactivation_rate": "0.01 m2/J",
        "water_temperature": "46.4 degF",
    }
    other = ask(**spelt, units="si")
    for name in NUMBERS:
        assert getattr(other, name) == pytest.approx(getattr(answers["si"], name), rel=1e-12)


UP = {
    "uvt": 1,
    "uvc_output": 1,
    "lamp_ageing_factor": 1,
    "sleeve_fouling_factor": 1,
    "sleeve_transmittance": 1,
    "flow": -1,
}
RANGES = {
    "uvt": ("%", 5.0, 100.0),
    "uvc_output": ("W", 1.0, 100.0),
    "lamp_ageing_factor": ("%", 10.0, 100.0),
    "sleeve_fouling_factor": ("%", 10.0, 100.0),
    "sleeve_transmittance": ("%", 10.0, 92.0),
    "flow": ("L/min", 1.0, 200.0),
}


@settings(max_examples=60)
@given(st.sampled_from(sorted(UP)), st.sampled_from(["refracted_line", "line_source"]), st.data())
def test_dose_changes_in_the_right_direction(name, model, data):
    unit, low, high = RANGES[name]
    ends = data.draw(st.lists(st.floats(low, high), min_size=2, max_size=2).filter(lambda e: abs(e[0] - e[1]) > 1e-3))
    less, more = sorted(ends)
    doses = [ask(field_model=model, **{name: f"{value!r} {unit}"}).reduction_equivalent_dose for value in (less, more)]
    assert (doses[1] - doses[0]) * UP[name] > 0.0


@given(st.floats(1.05, 4.0))
@settings(max_examples=25)
def test_dose_is_proportional_to_output_and_to_one_over_flow(factor):
    base = ask()
    assert ask(uvc_output=f"{13 * factor} W").mean_dose == pytest.approx(base.mean_dose * factor, rel=1e-12)
    assert ask(flow=f"{20 * factor} L/min").mean_dose == pytest.approx(base.mean_dose / factor, rel=1e-12)


def test_perfectly_clear_water_has_an_answer():
    given = ask(uvt="100 %")
    assert given.absorbed_share == 0.0
    assert given.absorption_coefficient == 0.0
    assert given.mean_dose > ask(uvt="99.99 %").mean_dose > ask(uvt="99 %").mean_dose


@pytest.mark.parametrize("hydraulics", ["plug_flow", "tanks_in_series", None])
@pytest.mark.parametrize("model", ["refracted_line", "line_source"])
def test_batch_equals_single_bit_for_bit(hydraulics, model):
    draw = np.random.default_rng(5)
    rows = 60
    columns = {
        "uvt": [f"{value!r} %" for value in draw.uniform(20, 100, rows).tolist()],
        "flow": [f"{value!r} L/min" for value in draw.uniform(0.5, 60, rows).tolist()],
        "chamber_bore": [f"{value!r} mm" for value in draw.uniform(40, 160, rows).tolist()],
        "arc_length": [f"{value!r} mm" for value in draw.uniform(200, 600, rows).tolist()],
        "sleeve_transmittance": [f"{value!r} %" for value in draw.uniform(80, 92, rows).tolist()],
        "target_dose": [f"{value!r} mJ/cm2" for value in draw.uniform(10, 90, rows).tolist()],
    }
    request = {**BARE, "field_model": model}
    if hydraulics:
        request["hydraulics"] = hydraulics
    if hydraulics == "tanks_in_series":
        request |= {"tanks": "3.5", "inactivation_rate": "0.1 cm2/mJ"}
    together = run_batch(PATH, {**request, **columns})
    assert not together.errors
    for row in range(rows):
        single = run(PATH, {**request, **{name: values[row] for name, values in columns.items()}})
        for name in [*NUMBERS, "regime", "meets_target"]:
            value, column = getattr(single, name), together[name][row]
            assert value == column or (value is None and column != column), (row, name)
        warned = {w.code for w in together.warnings if w.rows is None or row in w.rows}
        assert warned == codes(single)


def test_rows_with_errors_do_not_affect_the_others():
    given = run_batch(
        PATH,
        {
            **CABIN,
            "sleeve_outer_diameter": ["23 mm", "90 mm", "23 mm", "23 mm"],
            "chamber_length": ["600 mm", "600 mm", "500 mm", "600 mm"],
            "sleeve_transmittance": ["89 %", "89 %", "89 %", "93 %"],
        },
    )
    told = {(fault.pointer, fault.code): fault.rows for fault in given.errors}
    assert told == {
        ("/sleeve_outer_diameter", "chamber_impossible"): [1],
        ("/chamber_length", "chamber_too_short"): [2],
        ("/sleeve_transmittance", "sleeve_impossible"): [3],
    }
    assert given["mean_dose"][0] == ask().mean_dose
    assert np.all(np.isnan(given["mean_dose"][1:]))


# USEPA UV Disinfection Guidance Manual (2006), table 2.1, from memory: 3.5 W/cm at most; on 54 cm that is 189 W.
@pytest.mark.parametrize(
    "path", ["uv/dose", "uv/derated-flow", "uv/derating-curve", "uv/limits", "uv/uncertainty", "uv/fluence-map"]
)
def test_output_above_that_of_low_pressure_lamps_gives_a_warning(path):
    entry = find(path)
    own = {"spreads": entry.example["spreads"]} if path == "uv/uncertainty" else {}
    request = {name: value for name, value in CABIN.items() if name in entry.request.__struct_fields__} | own
    for output, beyond in (("188 W", False), ("190 W", True), ("1000 W", True)):
        told = {
            w.field for w in run(path, {**request, "uvc_output": output}).warnings if w.code == "output_implausible"
        }
        assert told == ({"uvc_output"} if beyond else set())


def test_repeated_request_gives_the_same_answer():
    first = ask()
    assert first.question is not None
    again = answer(find(PATH), dict(parse_qsl(urlsplit(first.question).query)), query=True)
    assert msgspec.json.encode(again) == msgspec.json.encode(first)


def test_every_impossible_size_is_reported_at_once():
    request = {**CABIN, "sleeve_outer_diameter": "76 mm", "sleeve_wall": "19.9 mm", "chamber_length": "539 mm"}
    assert faults({**request, "sleeve_transmittance": "92.1 %", "tanks": None}) == {
        ("/sleeve_outer_diameter", "chamber_impossible"),
        ("/chamber_length", "chamber_too_short"),
        ("/sleeve_transmittance", "sleeve_impossible"),
        ("/tanks", "required"),
    }
    assert ("/sleeve_wall", "sleeve_impossible") in faults({**CABIN, "sleeve_wall": "11.5 mm"})
    assert faults({**CABIN, "inactivation_rate": None}) == {("/inactivation_rate", "required")}


def test_sleeve_transmittance_of_100_percent_needs_the_plain_line():
    assert ask(sleeve_transmittance="100 %", field_model="line_source").mean_dose > 0.0
    assert ask(sleeve_transmittance="92.03 %").mean_dose > ask(sleeve_transmittance="89 %").mean_dose


@pytest.mark.parametrize(
    ("field", "value", "code", "words"),
    [
        ("uvt", "0.91 %", "out_of_range", "enter 75 %"),
        ("uvt", "101 %", "out_of_range", "enter 75 %"),
        ("uvc_output", "0 W", "out_of_range", "a third of"),
        ("flow", "0 L/min", "out_of_range", "at least"),
        ("flow", "20 L", "", "flow"),
        ("tanks", "0", "out_of_range", "at least"),
        ("hydraulics", "plugflow", "unknown_choice", "plug_flow"),
        ("field_model", "line", "unknown_choice", "name"),
    ],
)
def test_faults_state_the_allowed_values(field, value, code, words):
    with pytest.raises(RequestRefused) as refusal:
        ask(**{field: value})
    (fault,) = refusal.value.faults
    assert fault.pointer == f"/{field}"
    assert fault.code.startswith(code)
    assert words in fault.message


def test_without_hydraulics_the_mean_dose_is_an_upper_bound():
    given = run(PATH, BARE)
    assert given.reduction_equivalent_dose is None
    assert given.log_inactivation is None
    assert given.meets_target is None
    assert "hydraulics_not_named" in codes(given)
    assert given.mean_dose == ask().mean_dose
    hopeless = run(PATH, {**BARE, "flow": "300 L/min"})
    assert hopeless.meets_target is False
    assert "target_missed" in codes(hopeless)


def test_red_of_plug_flow_is_the_mean_dose():
    given = run(PATH, {**BARE, "hydraulics": "plug_flow"})
    assert given.reduction_equivalent_dose == given.mean_dose > ask().reduction_equivalent_dose
    assert given.log_inactivation is None
    assert "hydraulics_not_named" not in codes(given)
    assert "not_used" in codes(run(PATH, {**BARE, "hydraulics": "plug_flow", "tanks": "3"}))


def test_each_verdict_has_its_warning():
    met, missed = ask(target_dose="5 mJ/cm2"), ask(target_dose="500 mJ/cm2")
    assert met.meets_target is True
    assert "calculated_not_validated" in codes(met)
    assert missed.meets_target is False
    assert "target_missed" in codes(missed)
    exactly = ask(target_dose={"value": met.reduction_equivalent_dose, "unit": "mJ/cm2"})
    assert exactly.meets_target is (exactly.reduction_equivalent_dose >= met.reduction_equivalent_dose)


def test_plain_line_warns_that_it_is_optimistic():
    plain, refracted = ask(field_model="line_source"), ask()
    assert "line_source_error" in codes(plain)
    assert "line_source_error" not in codes(refracted)
    assert 1.08 < plain.mean_dose / refracted.mean_dose < 1.5


def test_laminar_flow_gives_a_warning():
    slow = ask(flow="2 L/min")
    assert slow.regime == "laminar"
    assert "laminar_flow" in codes(slow)
    assert slow.reynolds_number < 2000.0
    assert "laminar_flow" not in codes(ask(flow="60 L/min"))
    assert ask(water_temperature="25 degC").reynolds_number > ask().reynolds_number


def test_cautions_and_basis():
    given = ask()
    assert {caution.code for caution in given.cautions} == {
        "uvc_eyes_skin",
        "lamp_mercury",
        "mains_near_water",
        "pressure",
        "local_rules",
    }
    assert any("never a validated one" in basis.validity for basis in given.basis)
    assert any("refracted_line" in basis.method for basis in given.basis)


def test_every_default_used_is_listed_and_has_a_source():
    needed = {
        name: CABIN[name] for name in CABIN if name in {info.name for info in msgspec.structs.fields(DoseRequest)}
    }
    rows = {row["field"]: row for row in table("uv_defaults").rows}
    for name in [*rows, "water_temperature", "hydraulics", "tanks", "inactivation_rate"]:
        needed.pop(name, None)
    given = run(PATH, needed)
    expected = {name: row["value"] for name, row in rows.items()}
    assert given.defaults == expected | {
        "field_model": "refracted_line",
        "water_temperature": "10 degC",
        "opaque_ends": "false",
        "distribution": "false",
    }
    assert all(row["source"] and row["status"] in {"found", "memory", "computed"} for row in rows.values())


@pytest.mark.parametrize("request_type", [DoseRequest, DeratedFlowRequest])
def test_quantity_fields_have_a_meaning(request_type):
    for info in msgspec.structs.fields(request_type):
        if info.name in {"units", "answer_units"}:
            continue
        note = description_of(request_type, info.name)
        assert note.doc.endswith(".")
        if isinstance(note, Measure):
            assert note.allowed != "any finite number"
