"""Start-up checklist: order, amounts, omitted steps, errors."""

import pytest

from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run

EXAMPLE = dict(find("site/commissioning").example)


def test_each_step_comes_after_the_step_it_depends_on() -> None:
    seen: set[str] = set()
    for step in run("site/commissioning", {**EXAMPLE, "discharge_neutralised": True}).steps:
        assert step.after is None or step.after in seen
        assert step.number == len(seen) + 1
        assert step.risk
        assert step.caution
        seen.add(step.step)
    assert {
        "isolate",
        "leak_check",
        "flush_carbon",
        "chlorinate",
        "hold",
        "neutralise",
        "lamp",
        "second_sample",
    } <= seen


def test_amounts_equal_the_chlorination_bit_for_bit() -> None:
    whole = run("site/commissioning", {**EXAMPLE, "units": "metric", "discharge_neutralised": True})
    alone = run("chlorine/shock", {**EXAMPLE["chlorination"], "units": "metric"})
    steps = {step.step: step for step in whole.steps}
    assert steps["first_sample"].duration == alone.retest.first_sample_after
    assert steps["second_sample"].duration == alone.retest.sample_interval
    assert steps["chlorinate"].volume == alone.volume
    assert steps["hold"].duration == alone.hold_time
    assert steps["flush_chlorine"].volume == alone.flush_volume
    assert steps["neutralise"].mass == alone.neutraliser.mass
    assert all(measure.measure in steps["chlorinate"].amount for measure in alone.measures)


def test_flush_times_are_volume_over_flow() -> None:
    plain = {"flush_flow": "10 L/min", "working_pressure": "400 kPa", "line_volume": "20 L"}
    answer = run("site/commissioning", {**plain, "carbon_filters": [{"bed_volume": "25 L", "flush_bed_volumes": "12"}]})
    steps = {step.step: step for step in answer.steps}
    assert steps["flush_carbon"].volume == pytest.approx(300.0, rel=1e-12)
    assert steps["flush_carbon"].duration == pytest.approx(30.0, rel=1e-12)
    assert steps["flush"].duration == pytest.approx(6.0, rel=1e-12)  # three exchanges
    assert steps["leak_check"].pressure == pytest.approx(400.0, rel=1e-12)
    assert answer.working_time == pytest.approx((30 + 6 + 30 + 5) / 60, rel=1e-12)


def test_without_a_chlorination_its_steps_are_omitted_with_a_warning() -> None:
    answer = run("site/commissioning", {"flush_flow": "10 L/min", "working_pressure": "400 kPa"})
    assert not {"chlorinate", "hold", "flush_chlorine", "neutralise", "flush_carbon"} & {s.step for s in answer.steps}
    assert "no_chlorination" in {warning.code for warning in answer.warnings}


def test_every_caution_of_the_chlorination_and_of_the_steps_appears_once() -> None:
    answer = run("site/commissioning", EXAMPLE)
    codes = [caution.code for caution in answer.cautions]
    assert len(codes) == len(set(codes))
    alone = run("chlorine/shock", EXAMPLE["chlorination"])
    assert {caution.code for caution in alone.cautions} <= set(codes)
    assert {step.caution for step in answer.steps} <= {caution.message for caution in answer.cautions}


def test_a_question_with_a_section_repeats_the_request() -> None:
    answer = run("site/commissioning", EXAMPLE)
    assert "&chlorination.vessels=" in answer.question
    assert "chlorination.units" not in answer.question


def test_faults_of_the_section_are_reported_with_the_others() -> None:
    wrong = {**EXAMPLE, "flush_flow": "3 m", "chlorination": {"vessels": [], "colour": "blue"}}
    with pytest.raises(RequestRefused) as refused:
        run("site/commissioning", wrong)
    pointers = {fault.pointer for fault in refused.value.faults}
    assert {"/flush_flow", "/chlorination/vessels", "/chlorination/product", "/chlorination/colour"} <= pointers
    with pytest.raises(RequestRefused) as refused:
        run("site/commissioning", {**EXAMPLE, "chlorination": {"vessels": [], "colour": "blue"}})
    assert "/chlorination/colour" in {fault.pointer for fault in refused.value.faults}
