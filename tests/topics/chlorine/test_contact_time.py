"""Contact time and CT regressions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.core.chlorine.contact_time import smith_regression
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables.contact_time import ct_table
from requests_contact import PATH, WHOLE, ask, faults, measured


def test_by_hand():
    given_ = ask()
    tank, pipe, stretch = given_.segments
    # Table 1.2 (5 degC), pH 7.5, 0.8 mg/L: 175, so 58.33 for one log.
    assert tank.ct_required == pytest.approx(175 / 3, rel=1e-12)
    assert tank.contact_time == pytest.approx(0.3 * 1000 / 20, rel=1e-12)
    assert pipe.contact_time == pytest.approx(np.pi / 4 * 0.05**2 * 60 * 1000 / 20, rel=1e-12)
    assert stretch.contact_time == pytest.approx(4, rel=1e-12)
    time = tank.contact_time + pipe.contact_time + 4
    assert given_.contact_time == pytest.approx(time, rel=1e-12)
    assert given_.ct_achieved == pytest.approx(0.8 * time, rel=1e-12)
    assert given_.inactivation_ratio == pytest.approx(0.8 * time * 3 / 175, rel=1e-12)
    assert given_.log_inactivation_achieved == pytest.approx(0.8 * time * 3 / 175, rel=1e-12)
    assert given_.sufficient is False
    assert given_.solved_for == "nothing"


def test_the_cell_is_the_next_colder_higher_and_higher():
    given_ = ask()
    assert given_.segments[0].cell == "tables 1.1 to 1.6: 3 log, 5 degC, pH 7.5, 0.8 mg/L"
    for changes, cell in (
        ({"water_temperature": "0.2 degC"}, "0.5 degC or colder, pH 7.5, 0.8 mg/L"),
        ({"water_temperature": "30 degC"}, "25 degC, pH 7.5, 0.8 mg/L"),
        ({"water_temperature": "41 degF"}, "5 degC, pH 7.5, 0.8 mg/L"),
        ({"ph": "5.2"}, "5 degC, pH 6, 0.8 mg/L"),
        ({"ph": "7.5"}, "5 degC, pH 7.5, 0.8 mg/L"),
        ({"ph": "7.51"}, "5 degC, pH 8, 0.8 mg/L"),
        ({"residual": "0.05 mg/L"}, "5 degC, pH 7.5, 0.4 mg/L"),
        ({"residual": "0.81 mg/L"}, "5 degC, pH 7.5, 1 mg/L"),
    ):
        assert ask(**changes).segments[0].cell.endswith(cell), changes


@pytest.mark.parametrize(
    ("changes", "pointer", "nearest"),
    [
        ({"ph": "9.1"}, "/ph", "9"),
        ({"residual": "3.2 mg/L"}, "/residual", "3 mg/L"),
        ({"log_inactivation": "3.5"}, "/log_inactivation", "3"),
        ({"log_inactivation": "0.2"}, "/log_inactivation", "0.5"),
        ({"organism": "virus", "log_inactivation": "1"}, "/log_inactivation", "2"),
        ({"organism": "virus", "log_inactivation": "2", "ph": "5.5"}, "/ph", "6"),
        ({"organism": "virus", "log_inactivation": "2", "ph": "10.5"}, "/ph", "10"),
        ({"segments": measured("9 min", residual="4 mg/L")}, "/segments/0/residual", "3 mg/L"),
        ({"segments": measured("9 min", ph="9.5")}, "/segments/0/ph", "9"),
        ({"method": "smith_1995", "ph": "5.5"}, "/ph", "6"),
        ({"method": "smith_1995", "residual": "0.2 mg/L"}, "/residual", "0.4 mg/L"),
        ({"method": "epa_profiling", "water_temperature": "28 degC"}, "/water_temperature", "25 degC"),
        ({"method": "epa_profiling", "water_temperature": "0.1 degC"}, "/water_temperature", "0.5 degC"),
    ],
)
def test_values_outside_the_table_are_rejected_with_the_nearest_value(changes, pointer, nearest):
    with pytest.raises(RequestRefused) as refusal:
        ask(**changes)
    (fault,) = refusal.value.faults
    assert (fault.pointer, fault.code) == (pointer, "out_of_table")
    assert nearest in fault.message
    assert nearest in fault.allowed
    assert "PH" not in fault.message


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"organism": "cryptosporidium"}, {("/organism", "no_table")}),
        ({"disinfectant": "ozone", "method": "smith_1995"}, {("/method", "not_applicable")}),
        ({"ph": None}, {("/ph", "required")}),
        ({"residual": None, "flow": None}, {("/flow", "too_many_unknown")}),
        ({"residual": None, "segments": [{"kind": "tank", "baffling": "poor"}]},
         {("/segments/0/volume", "too_many_unknown")}),
        ({"segments": [{"kind": "tank", "volume": "1 m3"}]}, {("/segments/0/baffling", "required")}),
        ({"segments": [{"kind": "tank", "volume": "1 m3", "baffling": "poor", "baffling_factor": "0.4"}]},
         {("/segments/0/baffling_factor", "too_many")}),
        ({"segments": [{"kind": "pipe", "length": "9 m"}]}, {("/segments/0/bore", "required")}),
        ({"segments": []}, {("/segments", "out_of_range")}),
    ],
)  # fmt: skip
def test_errors_point_at_the_field(changes, expected):
    assert faults(**changes) == expected


def test_only_a_recalled_cell_gives_a_warning():
    assert ask().segments[0].status == "memory"
    assert "cell_from_memory" in codes(ask())
    # Read: table 1.1, pH 6, 1 mg/L.
    read = ask(water_temperature="0.5 degC", ph="6", residual="1 mg/L")
    assert read.segments[0].status == "found"
    assert read.segments[0].ct_required == pytest.approx(148 / 3)
    assert "cell_from_memory" not in codes(read)


def test_regressions_are_used_only_on_request_and_with_their_deviation():
    plain = ask()
    assert plain.ct_required_table is None
    assert plain.deviation_from_table is None
    smith = ask(
        method="smith_1995", segments=measured("30 min"), water_temperature="10 degC", ph="6", residual="0.4 mg/L"
    )
    assert smith.ct_required_table == pytest.approx(73 / 3, rel=1e-12)
    assert smith.deviation_from_table == pytest.approx(-11.2, abs=0.05)
    assert {"below_table", "regression_requested"} <= codes(smith)
    safe = ask(method="epa_profiling", segments=measured("30 min"), water_temperature="10 degC", ph="7.5")
    assert safe.deviation_from_table > 0
    assert "below_table" not in codes(safe)
    # Between cells even that one asks for less than the guidance, which goes to the colder and more alkaline cell.
    assert ask(method="epa_profiling", segments=measured("30 min")).deviation_from_table < 0


def test_interpolation_lies_between_cells_and_warns_below_the_guidance():
    steps = ask(segments=measured("9 min"))
    linear = ask(segments=measured("9 min"), interpolation="linear")
    table = ct_table("free_chlorine", "giardia")
    assert table.values[0, 2, 2, 2] / 3 < linear.ct_required < steps.ct_required
    assert linear.ct_required_table == pytest.approx(steps.ct_required, rel=1e-12)
    # 9 degC between 5 and 10, pH 7.4 between 7 and 7.5, by hand from four cells at 0.8 mg/L.
    cells = table.values[0, 1:3, 2:4, 2]
    by_hand = (0.2 * (0.2 * cells[0, 0] + 0.8 * cells[0, 1]) + 0.8 * (0.2 * cells[1, 0] + 0.8 * cells[1, 1])) / 3
    assert linear.ct_required == pytest.approx(by_hand, rel=1e-9)
    assert "below_table" in codes(linear)
    assert linear.segments[0].cell.endswith("interpolated")


def test_segments_can_have_different_conditions():
    given_ = ask(
        segments=[
            {
                "kind": "measured",
                "contact_time": "20 min",
                "residual": "1.2 mg/L",
                "ph": "7",
                "water_temperature": "15 degC",
            },
            {"kind": "measured", "contact_time": "30 min"},
        ]
    )
    first, second = given_.segments
    table = ct_table("free_chlorine", "giardia")
    assert first.ct_required == pytest.approx(table.values[0, 3, 2, 4] / 3)
    assert second.ct_required == pytest.approx(175 / 3)
    assert given_.inactivation_ratio == pytest.approx(24 / first.ct_required + 24 / second.ct_required, rel=1e-12)
    assert given_.ct_required == pytest.approx(given_.ct_achieved / given_.inactivation_ratio, rel=1e-12)


def test_virus_credit_is_by_the_four_log_value():
    given_ = ask(
        organism="virus", log_inactivation="2", ph="7.5", segments=measured("5 min"), water_temperature="10 degC"
    )
    # Table E-7 at 10 degC: 3 for 2 log, 6 for 4 log.
    assert given_.ct_required == 3
    assert given_.log_inactivation_achieved == pytest.approx(4 * 0.8 * 5 / 6, rel=1e-12)
    above = ask(organism="virus", log_inactivation="4", segments=measured("60 min"), ph="9.4")
    assert above.ct_required == 60  # pH 10, 5 degC
    assert "log_above_credit" in codes(ask(organism="virus", log_inactivation="2", segments=measured("60 min")))


def test_other_disinfectants():
    for disinfectant, organism, log, expected in (
        ("chlorine_dioxide", "giardia", "3", 26),
        ("ozone", "virus", "4", 1.2),
        ("chloramine", "giardia", "3", 2200),
        ("chlorine_dioxide", "cryptosporidium", "3", 1079),
        ("ozone", "cryptosporidium", "3", 32),
    ):
        given_ = ask(
            disinfectant=disinfectant, organism=organism, log_inactivation=log, water_temperature="8 degC",
            segments=measured("9 min"),
        )  # fmt: skip
        table = ct_table(disinfectant, organism)
        assert given_.ct_required in table.values
        if organism == "giardia":
            assert given_.ct_required == expected
    assert "chloramine_order" in codes(
        ask(disinfectant="chloramine", organism="virus", log_inactivation="2", segments=measured("9 min"))
    )


def test_each_of_the_three_alone_meets_the_target():
    given_ = ask(log_inactivation="0.5")
    assert not given_.sufficient
    assert ask(log_inactivation="0.5", residual=f"{given_.residual_to_meet!r} mg/L").sufficient
    assert ask(log_inactivation="0.5", flow=f"{given_.flow_to_meet!r} L/min").sufficient
    longer = ask(log_inactivation="0.5", segments=measured(f"{given_.contact_time_to_meet!r} min"))
    assert longer.inactivation_ratio == pytest.approx(1.0, rel=1e-12)
    assert ask(log_inactivation="2").residual_to_meet is None  # none in the table does


@settings(max_examples=40)
@given(st.floats(0.05, 2.9), st.floats(6.0, 8.9), st.floats(1.0, 24.0))
def test_more_ph_and_colder_water_need_more(residual, ph, celsius):
    def required(**changes):
        base = {"residual": f"{residual!r} mg/L", "ph": f"{ph!r}", "water_temperature": f"{celsius!r} degC"}
        return ask(segments=measured("9 min"), **{**base, **changes}).ct_required

    now = required()
    assert required(ph=f"{min(ph + 0.4, 9.0)!r}") >= now
    assert required(water_temperature=f"{celsius + 4!r} degC") <= now
    assert required(residual=f"{min(residual * 1.3, 3.0)!r} mg/L") >= now


def test_one_question_in_other_units_has_the_same_answer():
    other = run(
        PATH,
        {
            **WHOLE,
            "water_temperature": "48.2 degF",
            "residual": "0.0008 g/L",
            "flow": f"{20 / 3.785411784!r} gal/min",
            "segments": [
                {"kind": "tank", "volume": f"{1000 / 3.785411784!r} gal", "baffling": "poor"},
                {"kind": "pipe", "bore": f"{50 / 25.4!r} in", "length": f"{60 / 0.3048!r} ft"},
                {"kind": "measured", "contact_time": "240 s"},
            ],
        },
    )
    assert other.inactivation_ratio == pytest.approx(ask().inactivation_ratio, rel=1e-12)
    assert other.segments[0].cell == ask().segments[0].cell


def field_of(value, path):
    for part in path.split("."):
        value = None if value is None else value[int(part)] if part.isdigit() else getattr(value, part)
    return value


@pytest.mark.parametrize("unknown", [None, "residual", "flow", "volume"])
@pytest.mark.parametrize(
    ("method", "interpolation"), [("table", "guidance"), ("table", "linear"), ("epa_profiling", "guidance")]
)
def test_a_batch_gives_what_single_requests_give_bit_for_bit(unknown, method, interpolation):
    rows = 30
    spread = np.random.default_rng(9)
    columns = {
        "water_temperature": spread.uniform(1, 24, rows),
        "ph": spread.uniform(6, 9, rows),
        "residual": spread.uniform(0.45, 2.9, rows),
        "flow": spread.uniform(0.5, 15, rows),
        "volume": spread.uniform(200, 4000, rows),
    }

    def request(pick):
        made = {
            "units": "metric",
            "organism": "giardia",
            "log_inactivation": 0.5,
            "method": method,
            "interpolation": interpolation,
            **{
                name: pick(columns[name]) for name in ("water_temperature", "ph", "residual", "flow") if name != unknown
            },
        }
        tank = {"kind": "tank", "baffling": "average"}
        if unknown != "volume":
            tank["volume"] = pick(columns["volume"])
        made["segments"] = [tank, {"kind": "pipe", "bore": 40, "length": 30}]
        return made

    together = run_batch(PATH, request(lambda column: column.tolist()))
    refused = {row for fault in together.errors for row in fault.rows}
    assert len(refused) < rows
    for row in range(rows):
        single = request(lambda column, row=row: float(column[row]))
        if row in refused:
            with pytest.raises(RequestRefused):
                run(PATH, single)
            continue
        alone = run(PATH, single)
        for name, column in together.columns.items():
            value = field_of(alone, name)
            if value is None:
                assert column[row] is None or np.isnan(column[row]), name
            else:
                assert column[row] == value, name
        assert {w.code for w in together.warnings if w.rows is None or row in w.rows} == codes(alone)


# The regressions against the table.


def test_the_regressions_are_compared_with_every_cell():
    smith = run("chlorine/ct-regression", {"regression": "smith_1995"})
    assert (smith.cells, smith.cells_below) == (588, 282)
    assert smith.below == pytest.approx(48, abs=0.05)
    assert [row.cells_below for row in smith.temperatures] == [60, 21, 78, 21, 82, 20]
    assert smith.largest_deviation_cell.endswith("10 degC, pH 6, 0.4 mg/L")
    assert "below_table" in codes(smith)
    safe = run("chlorine/ct-regression", {"regression": "epa_profiling"})
    assert safe.cells_below == 0
    assert safe.lowest > 0
    assert "below_table" not in codes(safe)
    # Means worked elsewhere from the same digits, to the digit printed.
    for row, printed in zip(safe.temperatures, (4.5, 8.8, 3.5, 9.6, 4.7, 11.8), strict=True):
        assert abs(row.mean - printed) < 0.06


def test_the_margin_decides_which_cells_are_missed():
    def missed(margin):
        return run("chlorine/ct-regression", {"regression": "smith_1995", "margin": margin}).cells_below

    table = ct_table("free_chlorine", "giardia")
    grid = np.meshgrid(table.logs, table.temperatures, table.phs, table.residuals, indexing="ij")
    shortfall = table.values - smith_regression(*grid)
    for margin in (0.0, 0.5, 5.0, 20.0, 48.5):
        assert missed(f"{margin} mg.min/L") == np.sum(shortfall > margin)
    one_log = run(
        "chlorine/ct-regression", {"regression": "smith_1995", "log_inactivation": "1", "margin": "1 mg.min/L"}
    )
    assert one_log.cells_below == np.sum(shortfall / 3 > 1.0)
    assert missed("0 mg.min/L") > 282 > missed("5 mg.min/L") > missed("20 mg.min/L") > missed("48.5 mg.min/L") == 0


def test_both_regressions_in_one_batch():
    both = run_batch("chlorine/ct-regression", {"regression": ["smith_1995", "epa_profiling"]})
    assert both["cells_below"].tolist() == [282, 0]


def test_cautions_are_in_every_answer():
    wanted = {"ct_credit", "dialysis", "aquaria", "local_rules"}
    assert {caution.code for caution in ask().cautions} == wanted
