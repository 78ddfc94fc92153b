"""Published rules for one use disagree: an answer shows them all, and which one counts and why."""

import pytest

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.registry import find
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright.tables.chlorination import chlorination_rules
from dosewright.topics.chlorine.page import chlorine_page

PATH = "chlorine/shock"
WELL = {"kind": "drilled_casing", "diameter": "6 in", "water_column": "135 ft"}
PIPE = {"kind": "pipe", "material": "pex_sdr9", "nominal_size": "3/4", "length": "120 ft"}
ASKED = {"vessels": [WELL], "product": {"kind": "listed", "name": "household_bleach_6"}, "all_rules": True}


def rules(**changes):
    return run(PATH, {**ASKED, **changes}).rules


def counted(**changes):
    return [(rule.rule, rule.free_chlorine, rule.hold_time) for rule in rules(**changes) if rule.decides]


def test_every_published_step_for_wells_is_shown_with_its_source():
    shown = [(rule.rule, rule.free_chlorine, rule.hold_time) for rule in rules()]
    rows = [row for row in table("chlorination_rules").rows if row["use"] == "wells"]
    assert len(rows) > 15
    hours = [float(row["hold_time"]) * 60.0 if row["hold_time"] else None for row in rows]
    expected = [
        (row["name"], pytest.approx(float(row["minimum_concentration"])), time and pytest.approx(time))
        for row, time in zip(rows, hours, strict=True)
    ]
    assert shown == expected
    assert all(rule.source for rule in rules())


def test_rules_that_disagree_stand_side_by_side():
    holds = {rule.hold_time for rule in rules() if rule.hold_time is not None}
    strengths = {rule.free_chlorine for rule in rules()}
    assert max(holds) == pytest.approx(1440.0)
    assert min(holds) == pytest.approx(60.0)
    assert max(strengths) / min(strengths) == pytest.approx(40.0)
    sprayed = {rule.rule: rule.hold_time for rule in rules(rule="awwa_c652_method_2", free_chlorine="200 mg/L")}
    assert sprayed["awwa_c652_method_2"] == pytest.approx(30.0)
    assert sprayed["oregon_tank_surfaces"] == pytest.approx(180.0)


def test_without_a_rule_the_strictest_one_read_counts_and_says_why():
    answer = run(PATH, ASKED)
    (one,) = [rule for rule in answer.rules if rule.decides]
    assert one.rule == "north_carolina_18c_1002"
    assert one.reason is not None
    assert "none holds longer" in one.reason
    read = [rule for rule in answer.rules if rule.hold_time is not None and "from memory" not in rule.source]
    assert one.hold_time == max(rule.hold_time for rule in read)
    assert all(rule.reason for rule in answer.rules if "from memory" in rule.source or rule.hold_time is None)


def test_a_named_rule_counts_by_the_step_that_the_concentration_reaches():
    for strength, held in ((100, 600), (249, 600), (250, 240), (600, 120), (1000, 60)):
        asked = {"rule": "michigan_325_1661", "free_chlorine": f"{strength} mg/L"}
        ((name, _, time),) = counted(**asked)
        assert name == "michigan_325_1661"
        assert time == pytest.approx(held) == pytest.approx(run(PATH, {**ASKED, **asked}).hold_time)
    assert {rule.reason for rule in rules(rule="michigan_325_1661") if rule.decides} == {"You named it."}
    assert counted(rule="none", free_chlorine="80 mg/L") == []


@pytest.mark.parametrize(
    ("vessels", "rule", "uses"),
    [
        ([WELL], None, {"wells"}),
        ([WELL, PIPE], None, {"wells", "house_plumbing"}),
        ([PIPE], "plumbing_code_610_1", {"house_plumbing"}),
        ([WELL, PIPE], "plumbing_code_610_1", {"wells", "house_plumbing"}),
        ([PIPE], "awwa_c651_slug", {"mains"}),
        ([PIPE], "awwa_c652_method_1", {"tanks"}),
    ],
)
def test_rules_are_those_for_what_is_dosed(vessels, rule, uses):
    changes = {"vessels": vessels} | ({"rule": rule} if rule else {})
    assert {one.use for one in rules(**changes)} == uses


def test_a_batch_marks_the_step_that_counts_row_by_row():
    strengths = ["100 mg/L", "600 mg/L", "1000 mg/L"]
    batch = run_batch(PATH, {**ASKED, "rule": "michigan_325_1661", "free_chlorine": strengths})
    for row, strength in enumerate(strengths):
        single = rules(rule="michigan_325_1661", free_chlorine=strength)
        assert [batch.columns[f"rules.{n}.decides"][row] for n in range(len(single))] == [one.decides for one in single]


@pytest.mark.parametrize("rule", ["north_carolina_18c_1003", "ontario_building_code_7_6_2_8"])
def test_the_new_rules_for_mains_hold_longer_in_cold_water(rule):
    held = {
        degrees: run(PATH, {**ASKED, "vessels": [PIPE], "rule": rule, "water_temperature": f"{degrees} degC"}).hold_time
        for degrees in (4, 6)
    }
    assert held == {4: pytest.approx(48 * 60), 6: pytest.approx(24 * 60)}


def test_the_procedure_shows_the_rules_beside_each_other():
    answer = run(PATH, find(PATH).example)
    (shown,) = [
        block for block in chlorine_page(answer).blocks if "Published rules" in str(getattr(block, "caption", ""))
    ]
    titles = [chlorination_rules()[rule.rule].title for rule in answer.rules]
    assert [row[0] for row in shown.rows] == list(dict.fromkeys(titles))
    assert next(row for row in shown.rows if row[-1].startswith("Decides. No rule"))[0] == answer.rule


def test_without_all_rules_those_farthest_apart_stand_beside_the_one_that_counts():
    few = rules(all_rules=False)
    every = [rule for rule in rules() if rule.hold_time is not None and "from memory" not in rule.source]
    for name in ("free_chlorine", "hold_time"):
        shown = [getattr(rule, name) for rule in few]
        assert min(shown) == min(getattr(rule, name) for rule in every)
        assert max(shown) == max(getattr(rule, name) for rule in every)
    assert [rule.rule for rule in few if rule.decides] == ["north_carolina_18c_1002"]
    assert len(few) < 6
