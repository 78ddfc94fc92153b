"""The whole plan: the invented sites through every interface, verdicts, and what would change them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import msgspec
import pytest

from asgi import get, post
from dosewright.cli import main
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import answer, run
from dosewright.http import query
from dosewright_sdk import Client, InProcess
from sites import SITES, site, source

if TYPE_CHECKING:
    from pathlib import Path

    from serverproc import ServerProcess

PARTS = {
    "water_test": "site/water-check",
    "demand": "demand/peak",
    "plumbing": "pipe/pressure-drop",
    "chlorination": "chlorine/shock",
    "condensation": "site/condensation",
    "clearance": "site/clearance",
    "commissioning": "site/commissioning",
    "upkeep": "site/upkeep",
}
# What a part's own answer tells beyond its numbers; its address and inputs differ by what the plan shares.
OWN = ("question",)


def shared(request: dict[str, Any], answer: Any) -> dict[str, dict[str, Any]]:
    """Shared values of each section, written out by hand."""
    temperature = request["water_temperature"]
    test = request["water_test"]
    peak = request.get("peak_flow") or {"value": answer.peak_flow, "unit": answer.units["peak_flow"]}
    (chosen,) = (choice for choice in answer.choices if choice.chosen)
    flow = {"value": chosen.derated_flow, "unit": answer.units["choices.derated_flow"]}
    if chosen.flow_lower_bound is not None:  # then the lower bound decides
        flow = {"value": chosen.flow_lower_bound, "unit": answer.units["choices.flow_lower_bound"]}
    water = {"water_temperature": temperature, "ph": test["ph"]}
    if "chlorine_demand" not in request.get("chlorination", {}):  # a measured demand includes these
        water |= {name: test[name] for name in ("iron", "manganese")}
        if "hydrogen_sulfide" in test:
            water["sulfide"] = test["hydrogen_sulfide"]
    return {
        "water_test": {"water_temperature": temperature, "peak_flow": peak},
        "equipment": {"uvt": test["uvt"], "peak_flow": peak},
        "plumbing": {"flow": peak, "water_temperature": temperature},
        "chlorination": water,
        "condensation": {"water_temperature": temperature},
        "commissioning": {"chlorination": {**request.get("chlorination", {}), **water}},
        "upkeep": {
            **{name: test[name] for name in ("hardness", "iron", "manganese")},
            "derated_flow": flow,
            "lamp_ageing_factor": request["equipment"][chosen.number]["lamp_ageing_factor"],
            "peak_flow": peak,
        },
    }


def plain(answer: Any) -> Any:
    return {name: value for name, value in msgspec.to_builtins(answer).items() if name not in OWN}


@pytest.mark.parametrize("name", SITES)
def test_each_section_equals_its_own_calculation_bit_for_bit(name: str) -> None:
    request = site(name)
    answer = run("site/plan", request)
    from_plan = shared(request, answer)
    asked = [
        (section, PARTS[section], request[section], getattr(answer, section)) for section in PARTS if section in request
    ]
    asked += [
        ("equipment", "uv/derated-flow", unit, found)
        for unit, found in zip(request["equipment"], answer.equipment, strict=True)
    ]
    assert len(asked) >= 4
    for section, path, own, found in asked:
        assert plain(run(path, {**from_plan.get(section, {}), **own})) == plain(found), section
    held = {caution.code for caution in answer.cautions}
    assert held >= {caution.code for *_, found in asked for caution in found.cautions}
    assert len(held) == len(answer.cautions)


OUTSIDE = ("uvt", "iron", "manganese", "hardness", "turbidity", "e_coli")


@pytest.mark.parametrize(
    ("name", "verdict", "codes"),
    [
        ("cottage", "suitable", []),
        ("iron_well", "fix_first", [f"{name}_outside_limit" for name in OUTSIDE]),
        ("lake_cottage", "fix_first", ["surface_water", "e_coli_outside_limit", "pressure_too_low"]),
    ],
)
def test_verdicts_of_the_invented_sites(name: str, verdict: str, codes: list[str]) -> None:
    answer = run("site/plan", site(name))
    assert answer.verdict == verdict
    assert [reason.code for reason in answer.reasons if reason.severity != "check"] == codes
    order = ("blocking", "fix_first", "check")
    ranks = [order.index(reason.severity) for reason in answer.reasons]
    assert ranks == sorted(ranks)


def test_the_shortfall_of_pressure_is_required_less_available() -> None:
    request = site("lake_cottage")
    answer = run("site/plan", {**request, "units": "si"})
    left = answer.plumbing.outlet_pressure
    wanted = 20 * 6894.757293168361
    (reason,) = (one for one in answer.reasons if one.code == "pressure_too_low")
    value, unit = reason.exceeds_limit_by.split()
    assert unit == "Pa"
    assert float(value) == pytest.approx(wanted - left, rel=1e-3)


@pytest.mark.parametrize("name", SITES)
def test_every_interface_gives_the_same_answer(name: str, tmp_path: Path, server: ServerProcess) -> None:
    request = site(name)
    expected = msgspec.to_builtins(run("site/plan", request))
    assert post("/v1/site/plan", request).json() == expected
    assert get(expected["question"]).json() == expected
    assert msgspec.to_builtins(InProcess().site.plan(**request)) == expected
    with Client(server.base_url) as client:
        assert msgspec.to_builtins(client.site.plan(**request)) == expected
    toml, as_json, out = tmp_path / "site.toml", tmp_path / "site.json", tmp_path / "out.json"
    toml.write_text(source(name), encoding="utf-8")
    as_json.write_text(json.dumps(request), encoding="utf-8")
    for given_file in (toml, as_json):
        assert main(["plan", str(given_file), "--json", str(out)]) == 0
        assert json.loads(out.read_text(encoding="utf-8")) == expected


def test_one_input_changed_to_compare() -> None:
    client = InProcess()
    request = site("cottage")
    clear = client.site.plan(**request)
    dim = client.site.plan(**{**request, "water_test": {**request["water_test"], "uvt": "80 %"}})
    assert dim.choices[1].derated_flow < clear.choices[1].derated_flow
    assert dim.plumbing == clear.plumbing


def with_test(**changed: str | None) -> dict[str, Any]:
    request = site("cottage")
    test = {**request["water_test"], **changed}
    request["water_test"] = {name: value for name, value in test.items() if value is not None}
    return request


def codes(request: dict[str, Any]) -> tuple[str, set[str]]:
    answer = run("site/plan", request)
    return answer.verdict, {reason.code for reason in answer.reasons if reason.severity != "check"}


def test_scale_on_the_sleeve_is_a_reason_to_treat_first() -> None:
    hard = with_test(calcium_hardness="300 mg/L", alkalinity="300 mg/L", ph="8.2")
    assert codes(hard) == ("fix_first", {"scale_forming"})


def test_e_coli_must_be_fixed_first_and_other_coliforms_are_left_to_uv() -> None:
    assert codes(with_test(total_coliform="9 1/100mL", e_coli="1 1/100mL")) == ("fix_first", {"e_coli_outside_limit"})
    answer = run("site/plan", with_test(total_coliform="9000 1/100mL"))
    assert answer.verdict == "suitable"
    assert [reason.code for reason in answer.reasons] == ["total_coliform_outside_limit"]


@pytest.mark.parametrize(
    ("taken", "lacking", "still_judged"),
    [
        ("uvt", {"equipment"}, "plumbing"),
        ("peak_flow", {"demand", "plumbing"}, "equipment"),
        ("water_temperature", {"condensation"}, "equipment"),
    ],
)
def test_a_missing_shared_value_is_named_and_the_rest_is_judged(
    taken: str, lacking: set[str], still_judged: str
) -> None:
    request = with_test(uvt=None) if taken == "uvt" else site("cottage")
    request.pop(taken, None)
    answer = run("site/plan", request)
    assert {gap.section for gap in answer.missing} == lacking
    assert getattr(answer, still_judged)
    assert not any(getattr(answer, name) for name in lacking)
    assert answer.verdict == ("suitable" if taken == "water_temperature" else "incomplete")
    assert run("site/plan", json.loads(json.dumps(request))).missing == answer.missing


def test_a_wrong_value_is_reported_beside_missing_ones() -> None:
    request = with_test(uvt=None)
    request["equipment"][1]["lamp_ageing_factor"] = "800 %"
    with pytest.raises(RequestRefused) as refused:
        run("site/plan", request)
    assert [fault.pointer for fault in refused.value.faults] == ["/equipment/1/lamp_ageing_factor"]


def test_an_upper_bound_of_the_dose_never_gives_a_go() -> None:
    request = site("cottage")
    request["equipment"] = [
        {**{name: value for name, value in unit.items() if name != "rated_points"}, "uvc_output": "17 W"}
        for unit in request["equipment"]
    ]
    answer = run("site/plan", request)
    assert answer.verdict == "incomplete"
    (gap,) = answer.missing
    assert gap.section.endswith(".hydraulics")
    for unit in request["equipment"]:
        unit.update(hydraulics="tanks_in_series", tanks="3", inactivation_rate="0.12 cm2/mJ")
    named = run("site/plan", {**request, "peak_flow": "5 L/min"})
    assert named.verdict == "suitable"
    assert named.missing == []


def test_two_units_in_parallel_carry_twice_the_flow_with_a_warning() -> None:
    request = site("cottage")
    request["equipment"].append({**request["equipment"][1], "units_in_parallel": "2"})
    answer = run("site/plan", {**request, "peak_flow": "14 gal/min"})
    small, one, two = answer.choices
    assert two.derated_flow == 2.0 * one.derated_flow
    assert [choice.chosen for choice in answer.choices] == [False, False, True]
    assert small.derated_flow < one.derated_flow
    codes = {reason.code for reason in answer.reasons}
    assert "units_in_parallel" in codes
    assert "above_rated_flow" not in codes  # each of the two stays below its rated flow


def moved(request: dict[str, Any], turn: Any, share: float) -> dict[str, Any]:
    """The request with one input at its threshold times a share."""
    value, _, unit = turn.threshold.partition(" ")
    section, _, field = turn.input.rpartition(".")
    changed = json.loads(json.dumps(request))
    amount = float(value) * share if float(value) else (share > 1.0)
    if section.startswith("equipment."):
        changed["equipment"][int(section[10:])][field] = f"{amount!r} {unit}"
    else:
        (changed[section] if section else changed)[field] = f"{float(amount)!r} {'' if unit == 'NTU' else unit}".strip()
    return changed


@pytest.mark.parametrize("name", SITES)
def test_each_threshold_changes_the_verdict_as_stated(name: str) -> None:
    request = site(name)
    if name == "lake_cottage":  # as water of a deep well without faeces, so that its pressure alone decides
        request["water_test"] |= {"e_coli": "0 1/100mL", "water_source": "drilled_well"}
    answer = run("site/plan", request)
    turned = 0
    assert len(answer.sensitivity) >= 15
    for turn in answer.sensitivity:
        assert turn.threshold is not None
        before, after = (run("site/plan", moved(request, turn, share)).verdict for share in (1.0 - 2e-5, 1.0 + 2e-5))
        assert turn.verdict_beyond in {before, after}, turn
        if turn.verdict_beyond != answer.verdict:
            assert before != after, turn
            assert {before, after} >= {turn.verdict_beyond}, turn
            turned += 1
    assert turned >= (20 if name == "cottage" else 3)


def test_a_threshold_that_only_changes_the_choice_is_marked() -> None:
    request = site("cottage")
    answer = run("site/plan", {**request, "peak_flow": "20 L/min"})
    assert [choice.covers_peak_flow for choice in answer.choices] == [True, True]
    first, last = (turn for turn in answer.sensitivity if turn.input == "peak_flow")
    assert (first.reason, first.verdict_beyond) == ("unit_choice_changes", "suitable")
    assert (last.reason, last.verdict_beyond) == ("unit_too_small", "not_suitable")
    assert run("site/plan", {**request, "peak_flow": first.threshold}).verdict == "suitable"


def test_the_lowest_uvt_is_that_of_a_rated_point_or_below_them() -> None:
    request = site("cottage")
    point = request["equipment"][1]["rated_points"][0]
    lower = {**point, "uvt": "80 %", "rated_flow": "28 L/min"}
    unit = {name: request["equipment"][1][name] for name in ("lamp_ageing_factor", "sleeve_fouling_factor")}
    request["equipment"] = [{**unit, "rated_points": [point, lower]}]
    answer = run("site/plan", {**request, "peak_flow": "27 L/min"})
    found = {turn.input: turn for turn in answer.sensitivity}
    at = found["water_test.uvt"].threshold
    assert at == "95 %"
    assert found["peak_flow"].threshold.split()[0] == f"{answer.choices[0].flow_lower_bound:.6g}"
    for step, covered in ((-1e-3, False), (0.0, True)):
        unit = {**request["equipment"][0], "uvt": f"{float(at[:-2]) + step!r} %"}
        given = run("site/plan", {**request, "equipment": [unit], "peak_flow": "27 L/min"})
        assert given.choices[0].covers_peak_flow is covered
        assert ("unit_too_small" in {reason.code for reason in given.reasons}) is not covered
    nowhere = run("site/plan", {**request, "peak_flow": "20 L/min"})
    at = next(turn for turn in nowhere.sensitivity if turn.input == "water_test.uvt").threshold
    assert float(at[:-2]) < 80.0  # darker than both points: scaled by the range of chambers
    for step, covered in ((-1e-3, False), (1e-3, True)):
        unit = {**request["equipment"][0], "uvt": f"{float(at[:-2]) + step!r} %"}
        given = run("site/plan", {**request, "equipment": [unit], "peak_flow": "20 L/min"})
        assert given.choices[0].covers_peak_flow is covered


def test_a_unit_is_chosen_from_its_data_sheet_alone() -> None:
    request = site("cottage")
    points = [
        {"rated_flow": "12 gal/min", "dose": "40 mJ/cm2", "uvt": "95 %"},
        {"rated_flow": "30 gal/min", "dose": "16 mJ/cm2", "uvt": "95 %"},
    ]
    sheet = {"rated_points": points, "outside_diameter": "3.5 in", "outside_length": "24 in", "lamp_power": "40 W"}
    request["equipment"] = [sheet]
    for peak, covered in (("7.5 gal/min", True), ("8 gal/min", False)):
        answer = run("site/plan", {**request, "peak_flow": peak})
        (choice,), (unit,) = answer.choices, answer.equipment
        alone = run("uv/derated-flow", {**sheet, "uvt": request["water_test"]["uvt"], "peak_flow": peak})
        assert choice.flow_lower_bound == unit.flow_lower_bound == alone.flow_lower_bound
        assert choice.covers_peak_flow is covered
        found = {reason.code for reason in answer.reasons}
        assert ("unit_too_small" in found) is not covered
        assert ("water_layer_decides" in found) is not covered
        assert {"water_layer_assumed", "rated_ageing_assumed"} <= found


def test_an_impossible_peak_flow_is_a_reason_and_not_an_error() -> None:
    request = site("lake_cottage")
    request["plumbing"]["inlet_pressure"] = "10 psi"
    answer = run("site/plan", {**request, "peak_flow": "40 L/min"})
    (reason,) = (one for one in answer.reasons if one.code == "pressure_too_low")
    assert reason.severity == "fix_first"
    assert "this flow is impossible" in reason.message
    assert answer.verdict != "suitable"


def test_other_sections_read_laboratory_results() -> None:
    printed = run("site/plan", with_test(uvt=">87 %", iron="<0.1 mg/L"))
    plain = run("site/plan", with_test(uvt="87 %", iron="0.1 mg/L"))
    assert printed.choices == plain.choices
    assert printed.verdict == plain.verdict
    with pytest.raises(RequestRefused) as refused:
        run("site/plan", with_test(uvt="<87 %"))
    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [("/water_test/uvt", "bound_not_usable")]


def test_an_incomplete_section_is_still_in_the_question():
    pipe = {"kind": "pipe", "length": "3 m", "material": "copper_type_l", "nominal_size": "3/4"}
    first = run("site/plan", {"plumbing": {"segments": [pipe], "inlet_pressure": "45 psi"}, "units": "us"})
    assert first.plumbing is None
    assert "plumbing.segments=pipe" in first.question
    again = answer(find("site/plan"), query.nested(*_parsed(first.question)), query=True)
    assert again.missing == first.missing
    assert again.question == first.question


def _parsed(question):
    entry = find("site/plan")
    values, _ = query.parse(question.partition("?")[2].encode(), query.repeatable_names(entry))
    return values, query.section_names(entry)
