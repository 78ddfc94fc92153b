"""Retest: samples after a chlorination."""

import itertools

import numpy as np
import pytest

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables.chlorination import retest_rule


def sample(days, coliform="absent", chlorine="0 mg/L"):
    found = {"coliform": "absent" if coliform == "absent" else "present"}
    e_coli = "present" if coliform == "e_coli" else "absent"
    return {"taken_after": f"{days!r} d", **found, "e_coli": e_coli, "total_chlorine": chlorine}


def ask(*samples, **changes):
    return run("chlorine/retest", {"samples": list(samples), **changes})


def counts(given):
    return [one.counted for one in given.samples]


DAY = 1440.0


@pytest.mark.parametrize(
    ("samples", "verdict", "expected", "due"),
    [
        ([sample(7)], "incomplete", ["clear"], 8),
        ([sample(7), sample(8)], "suitable", ["clear", "clear"], None),
        ([sample(7), sample(7.5)], "incomplete", ["clear", "too_soon"], 8),
        ([sample(7), sample(7.5), sample(8.1)], "suitable", ["clear", "too_soon", "clear"], None),
        ([sample(3)], "incomplete", ["too_early"], 7),
        ([sample(3), sample(8), sample(9)], "suitable", ["too_early", "clear", "clear"], None),
        ([sample(8, chlorine="0.4 mg/L")], "incomplete", ["chlorinated"], 7),
        ([sample(7), sample(8, chlorine="0.4 mg/L"), sample(9)], "suitable", ["clear", "chlorinated", "clear"], None),
        ([sample(7), sample(9, "present")], "fix_first", ["clear", "not_clear"], None),
        ([sample(2, "present")], "fix_first", ["not_clear"], None),
        ([sample(7, "present"), sample(9)], "fix_first", ["not_clear", "clear"], None),
        ([sample(7, "present"), sample(9), sample(11)], "suitable", ["not_clear", "clear", "clear"], None),
        ([sample(7), sample(9, "e_coli")], "not_suitable", ["clear", "not_clear"], None),
    ],
)
def test_samples_together(samples, verdict, expected, due):
    given = ask(*samples)
    assert given.verdict == verdict
    assert counts(given) == expected
    assert given.next_sample == (None if due is None else pytest.approx(due * DAY))


def by_rule(samples, wait, apart, wanted):
    """The rule again, sample by sample, as by hand."""
    clear = []
    for days, coliform in samples:
        if coliform != "absent":
            clear = []
        elif days >= wait and (not clear or days - clear[-1] >= apart):
            clear.append(days)
    if len(clear) >= wanted:
        return "suitable"
    found = {coliform for _, coliform in samples}
    return "not_suitable" if "e_coli" in found else "fix_first" if "present" in found else "incomplete"


def test_every_short_history_against_the_rule_by_hand():
    histories = 0
    for kinds in itertools.product(["absent", "present", "e_coli"], repeat=3):
        for days in ((6, 7, 8), (7, 7, 9), (8, 9, 10), (1, 2, 30)):
            samples = list(zip(days, kinds, strict=True))
            given = ask(*(sample(day, kind) for day, kind in samples))
            assert given.verdict == by_rule(samples, 7, 1, 2), samples
            histories += 1
    assert histories == 108


def test_other_rules():
    assert ask(sample(3), first_sample_after="2 d", clear_samples="1").verdict == "suitable"
    assert {"wait_too_short", "too_few_samples"} <= codes(ask(sample(3), first_sample_after="2 d", clear_samples="1"))
    assert codes(ask(sample(7), sample(8))) == {"raw_sample_needed"}
    three = ask(sample(7), sample(8), clear_samples="3")
    assert (three.verdict, three.required_samples_remaining) == ("incomplete", 1)


def test_defaults_are_the_rules_of_the_table():
    given = ask(sample(7))
    assert given.inputs["first_sample_after"] == retest_rule("wait")[0]
    assert given.inputs["sample_interval"] == retest_rule("apart")[0]
    assert given.inputs["clear_samples"] == retest_rule("clear_samples")[0]


def test_bacteria_give_their_warnings():
    assert "coliform_present" in codes(ask(sample(7, "present")))
    assert "e_coli_present" in codes(ask(sample(7, "e_coli")))


def test_a_sample_without_a_chlorine_measurement_is_not_valid():
    bare = {"taken_after": "8 d", "coliform": "absent"}
    given = ask(bare, {**bare, "taken_after": "10 d"})
    assert given.verdict == "incomplete"
    assert counts(given) == ["chlorine_not_measured"] * 2
    assert "chlorine_not_measured" in codes(given)


def test_e_coli_has_its_own_field():
    untested = ask({"taken_after": "8 d", "coliform": "present", "total_chlorine": "0 mg/L"})
    assert untested.verdict == "fix_first"
    assert "e_coli_not_tested" in codes(untested)
    assert ask({"taken_after": "8 d", "coliform": "absent", "e_coli": "present"}).verdict == "not_suitable"


@pytest.mark.parametrize(
    ("request_", "expected"),
    [
        ({"samples": [sample(8), sample(7)]}, ("/samples/1/taken_after", "out_of_order")),
        ({"samples": [sample(8)], "clear_samples": "1.5"}, ("/clear_samples", "not_whole")),
        ({"samples": []}, ("/samples", "out_of_range")),
    ],
)
def test_refusals(request_, expected):
    with pytest.raises(RequestRefused) as refusal:
        run("chlorine/retest", request_)
    assert [(fault.pointer, fault.code) for fault in refusal.value.faults] == [expected]


def test_a_batch_gives_what_single_requests_give():
    spread = np.random.default_rng(4)
    first = spread.uniform(0, 14, 40)
    second = first + spread.uniform(0, 3, 40)
    chlorine = spread.choice([0.0, 0.05, 0.3], 40)
    kinds = spread.choice(["absent", "present", "e_coli"], 40, p=[0.7, 0.2, 0.1]).tolist()
    together = run_batch(
        "chlorine/retest",
        {
            "samples": [
                {"taken_after": {"value": first, "unit": "d"}, "coliform": "absent",
                 "total_chlorine": {"value": chlorine, "unit": "mg/L"}},
                {"taken_after": {"value": second, "unit": "d"}, "total_chlorine": "0 mg/L",
                 "coliform": ["absent" if kind == "absent" else "present" for kind in kinds],
                 "e_coli": ["present" if kind == "e_coli" else "absent" for kind in kinds]},
            ]
        },
    )  # fmt: skip
    assert together.errors == []
    for row in range(40):
        alone = ask(sample(float(first[row]), chlorine=f"{chlorine[row]} mg/L"), sample(float(second[row]), kinds[row]))
        assert together["verdict"][row] == alone.verdict
        assert together["samples.0.counted"][row] == alone.samples[0].counted
        assert together["consecutive_clear_samples"][row] == alone.consecutive_clear_samples
        due = together["next_sample"][row]
        assert np.isnan(due) if alone.next_sample is None else due == alone.next_sample


CLEAR = [{"taken_after": f"{days} d", "coliform": "absent", "total_chlorine": "0 mg/L"} for days in (8, 10)]


@pytest.mark.parametrize(
    ("raw", "verdict", "code"),
    [
        ({}, "suitable", "raw_sample_needed"),
        ({"raw_coliform": "absent"}, "suitable", None),
        ({"raw_coliform": "present"}, "fix_first", "raw_water_not_clear"),
        ({"raw_coliform": "present", "raw_e_coli": "absent"}, "fix_first", "raw_water_not_clear"),
        ({"raw_e_coli": "present"}, "not_suitable", "raw_water_not_clear"),
    ],
)
def test_clear_treated_water_is_not_cleared_while_the_raw_water_has_bacteria(raw, verdict, code):
    answer = run("chlorine/retest", {"samples": CLEAR, **raw})
    assert answer.verdict == verdict
    assert answer.required_samples_remaining == (0 if verdict == "suitable" else 2)
    codes = {warning.code for warning in answer.warnings} & {"raw_sample_needed", "raw_water_not_clear"}
    assert codes == ({code} if code else set())
    open_question = "e_coli_not_tested" in {warning.code for warning in answer.warnings}
    assert open_question is (raw == {"raw_coliform": "present"})
