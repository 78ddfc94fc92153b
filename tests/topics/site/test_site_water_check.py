"""Water check: limits, verdict, train, scaling, and properties of every water."""

import html
import json
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from phreeqpython import PhreeqPython

from asgi import send
from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import find
from dosewright.engine.run import run
from dosewright.tables import checks, table
from dosewright.tables.site import treatment_train, water_limits
from requests_water import GOOD

PATH = "site/water-check"
RANK = ("suitable", "incomplete", "fix_first", "not_suitable")
UNITS = {"uvt": "%", "hardness": "gpg", "total_coliform": "1/100mL", "e_coli": "1/100mL", "turbidity": "", "ph": ""}


def asked(**changes):
    return run(PATH, {name: value for name, value in {**GOOD, **changes}.items() if value is not None})


def needed(answer):
    return [stage.name for stage in answer.train if stage.needed]


def parameter(answer, name):
    return next(entry for entry in answer.parameters if entry.name == name)


@pytest.mark.parametrize("row", checks("site"), ids=lambda row: row["id"])
def test_published_value(row):
    request = json.loads(row["inputs"])
    if row["unit"]:
        request["answer_units"] = {re.sub(r"\.\d+\.", ".", row["field"]): row["unit"]}
    value = run(row["target"], request)
    for part in row["field"].split("."):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    if row["tolerance"]:
        assert value == pytest.approx(float(row["published"]), abs=float(row["tolerance"]), rel=0)
    else:
        assert value == row["published"]


def test_check_rows_name_source_status_and_basis():
    assert len(checks("site")) >= 20
    for row in checks("site"):
        assert row["source"], row["id"]
        assert row["tolerance_basis"], row["id"]
        assert row["status"] in {"found", "memory", "computed"}, row["id"]


def test_good_water_is_ok():
    answer = asked()
    assert answer.verdict == "suitable"
    assert answer.complete is True
    assert answer.bacteria_present is False
    assert answer.not_tested == []
    assert needed(answer) == ["fine_filter", "ultraviolet"]
    assert all(
        entry.within and entry.exceeds_limit_by == 0.0 and entry.treatment is None for entry in answer.parameters
    )


@pytest.mark.parametrize(
    ("name", "value", "by", "stage"),
    [
        ("uvt", "70 %", 5.0, "carbon_filter"),
        ("iron", "0.9 mg/L", 0.6, "oxidising_filter"),
        ("manganese", "0.2 mg/L", 0.15, "oxidising_filter"),
        ("hardness", "12 gpg", 5.0, "softener"),
        ("tannin", "0.6 mg/L", 0.5, "tannin_exchanger"),
        ("turbidity", 3, 2.0, "sediment_filter"),
        ("ph", 6.0, 0.5, "neutraliser"),
        ("hydrogen_sulfide", "0.25 mg/L", 0.2, "carbon_filter"),
        ("hydrogen_sulfide", "1 mg/L", 0.95, "oxidising_filter"),
    ],
)
def test_a_result_outside_its_limit_names_excess_and_treatment(name, value, by, stage):
    answer = asked(**{name: value})
    entry = parameter(answer, name)
    assert answer.verdict == "fix_first"
    assert entry.within is False
    assert entry.exceeds_limit_by == pytest.approx(by, rel=1e-9)
    assert entry.treatment == stage
    assert stage in needed(answer)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("iron", "12 mg/L"),
        ("manganese", "7 mg/L"),
        ("hydrogen_sulfide", "8 mg/L"),
        ("ph", 9.8),
    ],
)
def test_water_beyond_household_treatment_is_unsuitable(name, value):
    answer = asked(**{name: value})
    assert answer.verdict == "not_suitable"
    assert parameter(answer, name).treatment == "specialist"
    assert "specialist_needed" in codes(answer)


def test_iron_and_manganese_load_a_filter_together():
    assert asked(iron="4 mg/L", manganese="1 mg/L").verdict == "fix_first"
    assert asked(iron="5.5 mg/L", manganese="1 mg/L").verdict == "not_suitable"


@pytest.mark.parametrize("name", ["uvt", "iron", "hardness", "turbidity", "ph", "nitrate_nitrogen", "manganese"])
def test_a_limit_itself_is_within_in_any_unit(name):
    limit = water_limits()[name]
    unit = UNITS.get(name, "mg/L")
    bounds = [bound for bound in (limit.lower, limit.upper) if bound is not None]
    for bound in bounds:
        assert parameter(asked(**{name: f"{bound} {unit}".strip()}), name).within is True
        outside = bound * (1.001 if bound == limit.upper else 0.999)
        assert parameter(asked(**{name: f"{outside!r} {unit}".strip()}), name).within is False
    assert parameter(asked(hardness={"value": 7 * 17.118061, "unit": "mg/L"}), "hardness").within is True


def test_coliforms_alone_do_not_change_the_verdict():
    answer = asked(total_coliform="20 CFU/100mL", e_coli="1 CFU/100mL")
    assert answer.verdict == "fix_first"
    assert asked(total_coliform="20 CFU/100mL").verdict == "suitable"
    assert answer.bacteria_present is True
    assert {"bacteria_present", "faecal_pollution"} <= codes(answer)
    assert "boil_until_safe" in {caution.code for caution in answer.cautions}
    assert parameter(answer, "total_coliform").exceeds_limit_by == pytest.approx(20.0)
    assert asked(e_coli=None, total_coliform=None).bacteria_present is None


def test_nitrate_is_treated_at_the_tap_and_does_not_change_the_uv_verdict():
    answer = asked(nitrate_nitrogen="15 mg/L")
    assert (answer.verdict, answer.uv_verdict) == ("fix_first", "suitable")
    assert parameter(answer, "nitrate_nitrogen").treatment == "tap_reverse_osmosis"
    assert "nitrate_above_limit" in codes(answer)
    assert "nitrate_infants" in {caution.code for caution in answer.cautions}
    assert "nitrate" in [entry.item for entry in answer.uv_cannot_remove]


@pytest.mark.parametrize("name", [name for name in GOOD if name != "water_source"])
def test_what_was_not_tested_is_named(name):
    answer = asked(**{name: None})
    (missing,) = answer.not_tested
    assert missing.name == name
    assert missing.not_assessed == water_limits()[name].judges
    assert ("not_tested", name) in {(warning.code, warning.field) for warning in answer.warnings}
    assert answer.complete is False
    assert answer.verdict == ("incomplete" if missing.needed else "suitable")


def test_coliforms_without_an_e_coli_test_make_the_verdict_incomplete():
    assert asked(total_coliform="20 CFU/100mL", e_coli=None).verdict == "incomplete"


@pytest.mark.parametrize("source", ["dug_well", "spring", "surface_water", "rainwater", None])
def test_e_coli_in_open_or_shallow_water_needs_a_cyst_filter(source):
    answer = asked(water_source=source, total_coliform="20 CFU/100mL", e_coli="1 CFU/100mL")
    assert "cyst_filter" in needed(answer)
    assert "cyst_filter_needed" in codes(answer)
    assert answer.verdict == "fix_first"


def test_e_coli_in_a_drilled_well_needs_no_cyst_filter():
    answer = asked(total_coliform="20 CFU/100mL", e_coli="1 CFU/100mL")
    assert "cyst_filter_needed" not in codes(answer)


def test_the_source_of_the_water_is_required_and_never_assumed():
    answer = asked(water_source=None)
    assert (answer.verdict, answer.complete) == ("incomplete", False)
    assert ("source_not_given", "water_source") in {(warning.code, warning.field) for warning in answer.warnings}
    assert asked(water_source=None, iron="2 mg/L").verdict == "fix_first"


@pytest.mark.parametrize(
    ("source", "verdict", "code", "stages"),
    [
        ("drilled_well", "suitable", None, []),
        ("dug_well", "suitable", "surface_influence", []),
        ("spring", "suitable", "surface_influence", []),
        ("surface_water", "fix_first", "surface_water", ["cyst_filter"]),
        ("rainwater", "fix_first", "rainwater", ["sediment_filter"]),
    ],
)
def test_clear_water_can_contain_what_no_bacteria_test_shows(source, verdict, code, stages):
    answer = asked(water_source=source)
    assert sorted(needed(answer)) == sorted(["fine_filter", "ultraviolet", *stages])
    assert answer.verdict == verdict
    assert answer.complete is True
    assert [warning.code for warning in answer.warnings if warning.field == "water_source"] == ([code] if code else [])
    assert asked(water_source=source, iron="2 mg/L").verdict == "fix_first"
    assert asked(water_source=source, nitrate_nitrogen="15 mg/L").verdict == asked(nitrate_nitrogen="15 mg/L").verdict


def test_the_surface_water_warning_names_the_doses_against_viruses():
    """40 CFR 141.70(a): 99.9 % of Giardia, 99.99 % of viruses; 141.720(d)(1): 0.5 log at 39, 4 log at 186 mJ/cm2."""
    (told,) = (
        warning.message for warning in asked(water_source="surface_water").warnings if warning.code == "surface_water"
    )
    for figure in ("99.9 % of Giardia", "99.99 % of viruses", "0.5 log at 39 mJ/cm2", "4 log only at 186 mJ/cm2"):
        assert figure in told


def test_a_batch_judges_each_source_by_itself():
    columns = {**GOOD, "water_source": ["drilled_well", "surface_water", "spring"]}
    batch = run_batch(PATH, columns)
    assert batch["verdict"] == ["suitable", "fix_first", "suitable"]
    told = {warning.code: warning.rows for warning in batch.warnings if warning.field == "water_source"}
    assert told == {"surface_water": [1], "surface_influence": [2]}


def test_a_missing_test_hides_no_failure():
    assert asked(uvt=None, iron="2 mg/L").verdict == "fix_first"


def test_the_train_is_in_order_with_carbon_ahead_of_uv():
    answer = asked(
        water_source="surface_water",
        uvt="60 %",
        iron="2 mg/L",
        hardness="15 gpg",
        tannin="1 mg/L",
        turbidity=4,
        ph=6.2,
        peak_flow="9 gal/min",
    )
    names = needed(answer)
    assert names == [name for name in treatment_train() if name != "tap_reverse_osmosis"]
    assert names[-3:] == ["fine_filter", "cyst_filter", "ultraviolet"]
    assert names.index("carbon_filter") < names.index("ultraviolet")
    assert all(stage.service_flow == pytest.approx(9 * 3.785411784) for stage in answer.train)


def test_backwash_by_hand():
    answer = asked(
        iron="2 mg/L", oxidising_filter_diameter="12 in", supply_flow="7 gal/min", units="us", hardness="9 gpg"
    )
    stage = next(stage for stage in answer.train if stage.name == "oxidising_filter")
    assert stage.backwash_flow == pytest.approx(10.0 * np.pi / 4.0)  # 10 gal/min for each square foot, 1 ft across
    assert answer.largest_backwash_flow == pytest.approx(10.0 * np.pi / 4.0)
    assert "backwash_short" in codes(answer)
    assert "backwash_short" not in codes(asked(oxidising_filter_diameter="12 in", supply_flow="7 gal/min"))


SCALE = {"calcium_hardness": "150 mg/L", "alkalinity": "34 mg/L", "water_temperature": "25 degC", "ph": 7.5}


@pytest.mark.parametrize(
    ("omitted", "named"),
    [
        ("ph", "pH"),
        ("calcium_hardness", "calcium hardness"),
        ("alkalinity", "alkalinity"),
        ("water_temperature", "water temperature"),
        ("total_dissolved_solids", "total dissolved solids"),
    ],
)
def test_there_is_no_index_without_an_input(omitted, named):
    answer = asked(**{**SCALE, omitted: None})
    assert answer.langelier_index is answer.ryznar_index is answer.saturation_ph is answer.scaling is None
    (warning,) = (warning for warning in answer.warnings if warning.code == "scaling_not_assessed")
    assert warning.message == f"No scaling index: enter {named}."


def test_a_warm_sleeve_scales_sooner_and_needs_a_softener():
    cold = asked(**SCALE, total_dissolved_solids="320 mg/L")
    assert cold.scaling == "scale_dissolving"
    assert "sleeve_temperature_not_given" in codes(cold)
    hard = {"calcium_hardness": "110 mg/L", "alkalinity": "240 mg/L", "water_temperature": "10 degC"}
    warm = asked(**hard, sleeve_temperature="60 degC")
    assert warm.langelier_index_at_sleeve > 0.5 > warm.langelier_index
    assert warm.scaling == "scale_forming"
    assert warm.verdict == "fix_first"
    assert "softener" in needed(warm)


STEPS = {
    "uvt": st.floats(1, 100).map(lambda x: (100 - x, f"{x!r} %")),
    "iron": st.floats(0, 20).map(lambda x: (x, f"{x!r} mg/L")),
    "manganese": st.floats(0, 10).map(lambda x: (x, f"{x!r} mg/L")),
    "hardness": st.floats(0, 40).map(lambda x: (x, f"{x!r} gpg")),
    "tannin": st.floats(0, 5).map(lambda x: (x, f"{x!r} mg/L")),
    "turbidity": st.floats(0, 50).map(lambda x: (x, x)),
    "hydrogen_sulfide": st.floats(0, 20).map(lambda x: (x, f"{x!r} mg/L")),
    "nitrate_nitrogen": st.floats(0, 40).map(lambda x: (x, f"{x!r} mg/L")),
    "total_dissolved_solids": st.floats(0, 2000).map(lambda x: (x, f"{x!r} mg/L")),
}


@settings(max_examples=60)
@given(st.data())
def test_worse_water_never_improves_the_verdict(data):
    water = {name: data.draw(strategy)[1] for name, strategy in STEPS.items() if data.draw(st.booleans())}
    name = data.draw(st.sampled_from(list(STEPS)))
    better, worse = sorted((data.draw(STEPS[name]), data.draw(STEPS[name])), key=lambda pair: pair[0])
    one, other = asked(**{**water, name: better[1]}), asked(**{**water, name: worse[1]})
    assert RANK.index(one.verdict) <= RANK.index(other.verdict)
    assert parameter(one, name).exceeds_limit_by <= parameter(other, name).exceeds_limit_by


@given(st.floats(0, 14), st.floats(0, 14))
def test_ph_further_outside_never_improves_the_verdict(one, other):
    for side in (lambda x: max(0.0, 6.5 - x), lambda x: max(0.0, x - 9.5)):
        near, far = sorted((one, other), key=side)
        if side(far) > 0.0 and (near < 8.0) is (far < 8.0):
            assert RANK.index(asked(ph=near).verdict) <= RANK.index(asked(ph=far).verdict)


def test_a_batch_is_its_single_calls():
    columns = {
        "uvt": [90.0, 60.0, 80.0, 74.0],
        "iron": [0.1, 3.0, 12.0, 0.3],
        "ph": [7.4, 6.0, 9.9, 7.0],
        "nitrate_nitrogen": [1.0, 2.0, 30.0, 10.0],
        "calcium_hardness": [2.0, 12.0, 17.0, 5.0],
    }
    fixed = {"hardness": 4.0, "turbidity": 0.3, "manganese": 0.01, "alkalinity": 8.0, "water_temperature": 50.0}
    fixed |= {"water_source": "drilled_well", "total_coliform": 0.0}
    fixed |= {"lead": 0.001, "copper": 0.1, "arsenic": 0.001, "fluoride": 0.3, "uranium": 0.001}
    fixed |= {"total_dissolved_solids": 300.0, "oxidising_filter_diameter": 10.0, "supply_flow": 3.0, "units": "us"}
    batch = run_batch(PATH, {**columns, **fixed})
    assert batch["verdict"] == ["suitable", "fix_first", "not_suitable", "fix_first"]
    for row in range(4):
        single = run(PATH, {**{name: column[row] for name, column in columns.items()}, **fixed})
        for name, column in batch.columns.items():
            value = single
            for part in name.split("."):
                value = value[int(part)] if part.isdigit() else getattr(value, part)
            got = None if isinstance(column[row], float) and np.isnan(column[row]) else column[row]
            assert got == value, name


def test_refusals():
    for request, fault in (
        ({}, ("/uvt", "required")),
        ({**GOOD, "e_coli": "3 /100mL"}, ("/e_coli", "contradiction")),
        ({**GOOD, "turbidity": "1 mg"}, ("/turbidity", "unit_not_allowed")),
        ({**GOOD, "iron": "-1 mg/L"}, ("/iron", "out_of_range")),
    ):
        with pytest.raises(RequestRefused) as refusal:
            run(PATH, request)
        assert [(entry.pointer, entry.code) for entry in refusal.value.faults] == [fault]


def test_tables_are_consistent():
    fields = set(find(PATH).request.__struct_fields__)
    assert set(water_limits()) <= fields
    stages = {*treatment_train(), "specialist"}
    for name, limit in water_limits().items():
        assert all(treatment.stage in stages for treatment in (*limit.below, *limit.above))
        if limit.effect in {"ultraviolet", "health"}:
            assert (limit.lower is None) == (not limit.below), name
            assert (limit.upper is None) == (not limit.above), name
            # No gap between the limit and the first treatment.
            assert all(side[0].above in {None, limit.upper} for side in (limit.below, limit.above) if side)
    for name in ("water_quality_limits", "water_treatments", "water_treatment_train", "site_defaults"):
        assert all(row["source"] and row["status"] in {"found", "memory"} for row in table(name).rows), name


@pytest.mark.parametrize(
    ("part", "whole"),
    [
        ({"e_coli": "9 1/100mL"}, {"total_coliform": "4 1/100mL"}),
        ({"calcium_hardness": "200 mg/L"}, {"hardness": "10 gpg"}),
        ({"hardness": "12 gpg"}, {"total_dissolved_solids": "150 mg/L"}),
    ],
)
def test_a_part_above_its_whole_gives_a_warning(part, whole):
    (field,), (all_of_it,) = part, whole
    told = [warning for warning in run(PATH, {**part, **whole}).warnings if warning.code == "results_disagree"]
    assert [warning.field for warning in told] == [field]
    amount, unit = whole[all_of_it].split()
    enough = {all_of_it: f"{3.0 * float(amount)} {unit}"}
    assert "results_disagree" not in codes(run(PATH, {**part, **enough}))


def test_a_missing_test_is_described_in_words():
    told = [warning.message for warning in run(PATH, {"iron": "1 mg/L"}).warnings]
    assert "Not tested: pH. This test shows whether the water corrodes metal or forms scale." in told


@pytest.mark.parametrize("name", ["lead", "copper", "arsenic", "fluoride", "uranium"])
def test_a_chemical_above_its_limit_is_not_ok_and_boiling_does_not_help(name):
    limit = water_limits()[name].upper
    answer = asked(**{name: f"{1.5 * limit!r} mg/L"})
    assert (answer.verdict, answer.uv_verdict) == ("fix_first", "suitable")
    (message,) = (one.message for one in answer.warnings if one.code == "chemical_above_limit")
    assert "Boiling does not remove it" in message
    assert "tap_reverse_osmosis" in needed(answer)


def test_a_result_close_to_its_limit_gives_a_warning():
    close = asked(iron="0.29 mg/L", uvt="77 %", ph=6.6)
    assert {one.field for one in close.warnings if one.code == "close_to_limit"} == {"iron", "uvt", "ph"}
    assert "close_to_limit" not in codes(asked())


def test_soft_and_acidic_water_mentions_lead_and_copper():
    assert "lead_and_copper" in codes(asked(hardness="2 gpg", ph=6.7))
    assert "lead_and_copper" not in codes(asked(hardness="2 gpg", ph=7.4))
    assert "lead_and_copper" not in codes(asked(hardness="5 gpg", ph=6.7))
    assert "lead_and_copper" in codes(asked(hardness="2 gpg", ph=None))
    assert "lead_and_copper" in codes(asked(hardness=None, ph=6.7))
    assert "lead_and_copper" not in codes(asked(hardness=None, ph=7.4))


def test_high_sulfate_is_not_for_infants():
    assert "sulfate_infants" in codes(asked(sulfate="450 mg/L"))
    assert "sulfate_infants" not in codes(asked(sulfate="300 mg/L"))


@pytest.mark.parametrize(("celsius", "low", "high"), [(5, 0.18, 0.36), (10, 0.15, 0.33), (25, 0.08, 0.26)])
def test_in_cold_water_the_index_reads_below_calcite_saturation(celsius, low, high):
    """Against PHREEQC: a water of 100 mg/L calcium hardness and alkalinity as CaCO3, pH 7.6."""
    pp = PhreeqPython()
    solution = pp.add_solution_simple({"CaCO3": 1.0, "CO2": 1.09}, temperature=celsius)
    answer = asked(
        calcium_hardness="100.09 mg/L",  # 1 mmol of CaCO3, 2 meq of alkalinity by charge balance
        alkalinity="100.09 mg/L",
        ph=solution.pH,
        total_dissolved_solids="150 mg/L",
        water_temperature=f"{celsius} degC",
    )
    assert low < solution.si("Calcite") - answer.langelier_index < high
    assert "index_reads_low" in codes(answer)


@pytest.mark.parametrize(
    ("name", "printed", "value"),
    [
        ("total_coliform", "absent", 0.0),
        ("total_coliform", "ND", 0.0),
        ("total_coliform", "<1", 0.0),
        ("total_coliform", "<1 MPN/100mL", 0.0),
        ("total_coliform", "<0.5 CFU/100 mL", 0.0),
        ("total_coliform", "3 CFU/100 mL", 3.0),
        ("total_coliform", "3 cfu/100ml", 3.0),
        ("total_coliform", "<1 MPN/100 mL", 0.0),
        ("total_coliform", ">200.5 MPN/100 mL", 200.5),
        ("total_coliform", ">=2420", 2420.0),
        ("total_coliform", "≥200.5", 200.5),
        ("total_coliform", "0", 0.0),
        ("total_coliform", "POS", 1.0),
        ("total_coliform", "positive", 1.0),
        ("total_coliform", "NEG", 0.0),
        ("total_coliform", "n.d.", 0.0),
        ("nitrate_nitrogen", "62 mg/L NO3", 62.0 * 14.0067 / 62.0049),
        ("nitrate_nitrogen", "62 mg/L as NO₃", 62.0 * 14.0067 / 62.0049),
        ("nitrate_nitrogen", "14 mg/L NO3-N", 14.0),
        ("nitrate_nitrogen", "14 mg/L (as N)", 14.0),
        ("sulfate", "30 mg/L as SO4", 30.0),
        ("uvt", "82%T", 82.0),
        ("turbidity", "0.4 FNU", 0.4),
        ("ph", "7.3 SU", 7.3),
        ("hardness", "14 dH", 14.0 * 17.848 / (64.79891 / 3.785411784)),
        ("hardness", "100 mg/L CaCO3", 100.0 / (64.79891 / 3.785411784)),
        ("total_coliform", "present", 1.0),
        ("total_coliform", ">200.5", 200.5),
        ("total_coliform", "TNTC", 200.0),
        ("total_coliform", "12 CFU/100mL", 12.0),
        ("turbidity", "0.4 NTU", 0.4),
        ("turbidity", "<0.1 NTU", 0.1),
        ("nitrate_nitrogen", "31 mg/L as NO3", 31.0 * 14.0067 / 62.0049),
        ("nitrate_nitrogen", "7 mg/L as N", 7.0),
        ("uvt", "87 %/cm", 87.0),
        ("lead", "<0.001 mg/L", 0.001),
        ("uvt", ">90 %", 90.0),
        ("total_coliform", ">0", 1.0),
        ("hardness", "100 mg/L as CaCO3", 100.0 / (64.79891 / 3.785411784)),
    ],
)
def test_results_are_read_as_laboratories_print_them(name, printed, value):
    changes = {"e_coli": "absent"} if name == "total_coliform" else {}
    assert parameter(asked(**{name: printed}, **changes), name).value == pytest.approx(value, rel=1e-12)
    column = {**GOOD, **changes, name: [printed, printed]}
    assert run_batch(PATH, column).errors == []


UNUSABLE = [
    ("uvt", "<75 %", "bound_not_usable"),
    ("uvt", ">70 %", "limit_not_decided"),
    ("arsenic", ">0.01 mg/L", "bound_not_usable"),
    ("arsenic", "<0.02 mg/L", "limit_not_decided"),
    ("arsenic", "ND", "detection_limit_needed"),
    ("arsenic", "ND mg/L", "detection_limit_needed"),
    ("arsenic", "0.003 mg/L as N", "expressed_as"),
    ("hardness", "100 mg/L as N", "expressed_as"),
    ("total_dissolved_solids", "<10 mg/L", "bound_not_usable"),
]


@pytest.mark.parametrize(("name", "printed", "code"), UNUSABLE)
def test_a_bound_that_shows_no_safe_value_is_rejected(name, printed, code):
    with pytest.raises(RequestRefused) as refusal:
        asked(**{name: printed})
    assert [(fault.pointer, fault.code) for fault in refusal.value.faults] == [(f"/{name}", code)]


@pytest.mark.parametrize(("name", "printed", "code"), UNUSABLE)
def test_a_bound_in_a_batch_leaves_its_row_without_a_verdict(name, printed, code):
    batch = run_batch(PATH, {**GOOD, name: [GOOD[name], printed]})
    assert (f"/{name}", code, [1]) in [(fault.pointer, fault.code, fault.rows) for fault in batch.errors]
    assert batch["verdict"] == ["suitable", None]


def test_a_bound_taken_as_its_value_is_listed_in_defaults():
    assert asked(lead="<0.001 mg/L").defaults["lead"].startswith("<0.001 mg/L is taken as 0.001 mg/L")


@pytest.mark.parametrize("nonsense", ["lots", "<", "> many", "TNTC TNTC"])
def test_a_meaningless_result_is_rejected(nonsense):
    with pytest.raises(RequestRefused):
        asked(total_coliform=nonsense)


def refused(**changes):
    with pytest.raises(RequestRefused) as refusal:
        asked(**changes)
    (fault,) = refusal.value.faults
    return fault


@pytest.mark.parametrize(
    ("name", "printed", "hint"),
    [
        ("total_coliform", "3 MPN", "Write 3 MPN/100 mL."),
        ("iron", "62 mg/L NO3", "does not apply"),
        ("hardness", "62 mg/L NO3", 'write it "as CaCO3"'),
        ("nitrate_nitrogen", "62 mg/L as NO2", '"as NO3"'),
        ("nitrate_nitrogen", "62 NO3", "62 mg/L as NO3"),
        ("uvt", "0.82", "do you mean 82 %?"),
        ("uvt", 0.82, "do you mean 82 %?"),
        ("uvt", "0.086 /cm", "82 %"),
        ("sulfate", "10 mg/L as S", "multiply a result as sulfur by 2.996"),
    ],
)
def test_what_is_ambiguous_is_rejected_with_the_right_spelling(name, printed, hint):
    fault = refused(**{name: printed})
    assert fault.pointer == f"/{name}"
    assert hint in fault.message


def test_an_absorbance_is_named_as_one():
    assert "is an absorbance" in refused(uvt="0.086 /cm").message


@pytest.mark.parametrize("words", ["not tested", "Not analysed", "not analyzed"])
@pytest.mark.parametrize("name", ["e_coli", "iron", "uvt", "ph"])
def test_not_tested_counts_as_left_out(name, words):
    answer, without = asked(**{name: words}), asked(**{name: None})
    assert name in {gap.name for gap in answer.not_tested}
    assert answer.question == without.question
    assert answer.to_dict() == without.to_dict()


@pytest.mark.parametrize("bound", ["<2", "<10", "<10 CFU/100 mL", "<1 1/mL", "≤1"])
def test_a_detection_limit_that_is_too_high_is_neither_clean_nor_found(bound):
    both = asked(total_coliform=bound, e_coli=bound)
    assert both.bacteria_present is None
    assert both.verdict == "incomplete"
    assert not {"faecal_pollution", "bacteria_present"} & codes(both)
    gaps = {warning.field: warning.message for warning in both.warnings if warning.code == "not_tested"}
    for name in ("total_coliform", "e_coli"):
        assert "does not show whether there are any" in gaps[name]
        assert both.defaults[name].startswith(bound.replace("≤", "<="))


def test_a_bound_on_e_coli_does_not_contradict_absent_coliforms():
    answer = asked(total_coliform="absent", e_coli="<10")
    assert answer.verdict == "suitable"
    assert answer.bacteria_present is False
    assert refused(total_coliform="absent", e_coli="4").code == "unit_missing"
    assert refused(total_coliform="absent", e_coli="4/100mL").code == "contradiction"


def test_only_undecided_results_give_an_incomplete_answer():
    answer = run(PATH, {"total_coliform": "<10", "e_coli": "<10"})
    assert answer.verdict == "incomplete"
    assert answer.parameters == []


def test_the_question_repeats_laboratory_words():
    words = {
        "iron": "<0.05 mg/L",
        "lead": "<0.005 mg/L",
        "total_coliform": ">200.5",
        "e_coli": "present",
        "uvt": "≥90 %",
        "nitrate_nitrogen": "31 mg/L as NO3",
    }
    answer = asked(**words)
    assert {one.name: one.reported for one in answer.parameters if one.reported} == words
    again = send("GET", answer.question)
    first = send("POST", f"/v1/{PATH}", [json.dumps({**GOOD, **words}).encode()], {"content-type": "application/json"})
    assert again.body == first.body
    undecided = run(PATH, {"total_coliform": "<10", "iron": "0.1 mg/L"})
    assert b"detection limit is too high" in send("GET", undecided.question).body


def test_a_plan_page_shows_laboratory_words():
    words = {**GOOD, "total_coliform": ">200.5", "e_coli": "present", "nitrate_nitrogen": "31 mg/L as NO3"}
    body = [json.dumps({"water_test": words}).encode()]
    page = send("POST", "/v1/site/plan?format=html", body, {"content-type": "application/json"})
    text = html.unescape(re.sub("<[^>]+>", " ", page.body.decode()))
    assert ">200.5" in text
    assert "201 in 100 mL" not in text
    assert "1 in 100 mL" not in text
    assert "(31 mg/L as NO3)" in text


def test_the_page_shows_laboratory_words():
    page = html.unescape(send("GET", f"/v1/{PATH}?total_coliform=%3E200.5&e_coli=present&format=html").body.decode())
    assert ">200.5" in page
    assert "present" in page


@pytest.mark.parametrize(
    ("symbol", "name"),
    [
        ("Fe", "iron"),
        ("Mn", "manganese"),
        ("TDS", "total_dissolved_solids"),
        ("H2S", "hydrogen_sulfide"),
        ("NO3", "nitrate_nitrogen"),
        ("Pb", "lead"),
        ("As", "arsenic"),
        ("Cu", "copper"),
    ],
)
def test_a_symbol_in_place_of_a_name_gets_a_suggestion(symbol, name):
    assert f"Did you mean {name!r}?" in refused(**{symbol: "1 mg/L"}).message
