"""Properties of every plan: worse water, more demand, another order."""

from __future__ import annotations

import copy

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from sites import site

ORDER = ("suitable", "incomplete", "fix_first", "not_suitable")
WORSE = {
    "uvt": st.floats(1.0, 87.0).map("{:.3f} %".format),
    "iron": st.floats(0.1, 20.0).map("{:.3f} mg/L".format),
    "manganese": st.floats(0.02, 5.0).map("{:.3f} mg/L".format),
    "hardness": st.floats(5.0, 80.0).map("{:.3f} gpg".format),
    "turbidity": st.floats(0.4, 50.0).map("{:.3f}".format),
    "nitrate_nitrogen": st.floats(1.1, 100.0).map("{:.3f} mg/L".format),
    "total_coliform": st.integers(6, 100_000).map("{} 1/100mL".format),
    "e_coli": st.integers(0, 100_000).map("{} 1/100mL".format),
}
FEW = settings(max_examples=25)


@FEW
@given(st.sampled_from(sorted(WORSE)).flatmap(lambda name: st.tuples(st.just(name), WORSE[name], WORSE[name])))
def test_worse_water_never_improves_the_verdict(case: tuple[str, str, str]) -> None:
    name, *values = case
    better, worse = sorted(values, key=lambda text: float(text.split()[0]), reverse=name == "uvt")
    request = site("cottage")
    verdicts = []
    for value in (better, worse):
        request["water_test"][name] = value
        try:
            verdicts.append(run("site/plan", request).verdict)
        except RequestRefused:
            return  # out of the range of a model: refused, not all_assessed
    assert ORDER.index(verdicts[0]) <= ORDER.index(verdicts[1]), (name, better, worse)


@FEW
@given(st.data(), st.sampled_from(("cottage", "iron_well")), st.sets(st.sampled_from(sorted(WORSE)), min_size=2))
def test_water_worse_in_several_ways_never_improves_the_verdict(data: st.DataObject, name: str, ways: set[str]) -> None:
    request = site(name)
    test = dict(request["water_test"])
    verdicts = []
    for _ in range(2):
        try:
            verdicts.append(run("site/plan", {**request, "water_test": test}).verdict)
        except RequestRefused:
            return  # out of the range of a model: refused, not all_assessed
        for way in sorted(ways):
            drawn, held = data.draw(WORSE[way]), test[way]
            worst = min if way == "uvt" else max
            test[way] = worst((held, drawn), key=lambda text: float(text.split()[0]))
    assert ORDER.index(verdicts[0]) <= ORDER.index(verdicts[1]), test


@FEW
@given(st.floats(1.0, 30.0), st.floats(0.0, 30.0))
def test_more_demand_never_raises_head_room(flow: float, more: float) -> None:
    request = site("cottage")
    rooms = []
    verdicts = []
    for peak in (flow, flow + more):
        answer = run("site/plan", {**request, "peak_flow": f"{peak!r} L/min"})
        rooms.append([choice.flow_margin for choice in answer.choices])
        verdicts.append(ORDER.index(answer.verdict))
    assert all(after <= before for before, after in zip(*rooms, strict=True))
    assert verdicts[0] <= verdicts[1]


@FEW
@given(st.permutations(range(2)), st.permutations(range(6)), st.permutations(range(2)))
def test_the_order_of_lists_changes_nothing_but_order(units: list[int], vessels: list[int], media: list[int]) -> None:
    request = site("cottage")
    turned = copy.deepcopy(request)
    turned["equipment"] = [request["equipment"][place] for place in units]
    turned["chlorination"]["vessels"] = [request["chlorination"]["vessels"][place] for place in vessels]
    turned["upkeep"]["media"] = [request["upkeep"]["media"][place] for place in media]
    plan, other = run("site/plan", request), run("site/plan", turned)
    assert other.verdict == plan.verdict
    assert {(one.code, one.exceeds_limit_by) for one in other.reasons} == {
        (one.code, one.exceeds_limit_by) for one in plan.reasons
    }
    assert [other.equipment[units.index(place)].derated_flow for place in range(2)] == [
        unit.derated_flow for unit in plan.equipment
    ]
    assert other.chlorination.volume == pytest.approx(plan.chlorination.volume, rel=1e-12)
    events = [sorted((one.day, one.task) for one in answer.upkeep.events) for answer in (plan, other)]
    assert events[0] == events[1]
    assert {one.code for one in other.cautions} == {one.code for one in plan.cautions}


@FEW
@given(st.permutations(range(2)), st.permutations(range(2)))
def test_the_order_of_fixtures_and_surfaces_changes_nothing_but_order(fixtures: list[int], surfaces: list[int]) -> None:
    request = site("lake_cottage")
    request["condensation"] = site("cottage")["condensation"]
    turned = copy.deepcopy(request)
    turned["demand"]["fixtures"] = [request["demand"]["fixtures"][place] for place in fixtures]
    turned["condensation"]["surfaces"] = [request["condensation"]["surfaces"][place] for place in surfaces]
    plan, other = run("site/plan", request), run("site/plan", turned)
    assert other.peak_flow == pytest.approx(plan.peak_flow, rel=1e-12)
    assert (other.verdict, [one.code for one in other.reasons]) == (plan.verdict, [one.code for one in plan.reasons])
    assert [other.condensation.surfaces[surfaces.index(place)] for place in range(2)] == plan.condensation.surfaces
