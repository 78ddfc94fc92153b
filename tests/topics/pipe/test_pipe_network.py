"""Networks of two branches solved by another program; tests/reference/branches.csv says which, and how."""

import csv
from pathlib import Path

import pytest

from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run

ROWS = list(
    csv.DictReader((Path(__file__).parents[2] / "reference" / "branches.csv").read_text(encoding="utf-8").splitlines())
)
DENSITY, GRAVITY = 999.97, 9.80665  # water of 4 degC
# Head: the engine's constants have four figures; split: it stops when flows change by less than 1e-6.
HEAD, SPLIT = 1e-3, 5e-4


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_network(row):
    segments = []
    for place, branch in (("1", None), ("a", "a"), ("b", "b"), ("2", None)):
        pipe = {
            "kind": "pipe",
            "length": f"{row[f'length_{place}']} m",
            "bore": f"{row[f'bore_{place}']} mm",
            "hazen_williams_c": row[f"coefficient_{place}"],
        }
        fitting = {"kind": "fitting", "loss_coefficient": row[f"loss_{place}"]}
        segments += [{**one, **({"branch": branch} if branch else {})} for one in (pipe, fitting)]
    ask = {"flow": f"{row['flow']} L/s", "method": "hazen_williams", "water_temperature": "4 degC", "units": "si"}
    given = run("pipe/pressure-drop", {**ask, "segments": segments})
    assert given.pressure_drop / (DENSITY * GRAVITY) == pytest.approx(float(row["head"]), rel=HEAD)
    assert given.segments[2].flow * 1000 == pytest.approx(float(row["flow_a"]), rel=SPLIT)
    assert given.segments[4].flow * 1000 == pytest.approx(float(row["flow"]) - float(row["flow_a"]), rel=SPLIT)


def test_rows_state_their_source():
    assert len(ROWS) == 25
    for row in ROWS:
        assert row["source"]
        assert row["status"] == "computed"


def _filter(branch, first, second, **more):
    points = [("5 gal/min", first), ("10 gal/min", second)]
    rated = [{"rated_flow": flow, "pressure_drop": drop} for flow, drop in points]
    return {"kind": "device", "rated_points": rated, "branch": branch, **more}


PIPE = {"kind": "pipe", "length": "2 ft", "material": "copper_type_l", "nominal_size": "1"}
ASKED = {"pipe/pressure-drop": {"flow": "9 gal/min"}, "pipe/largest-flow": {"pressure_drop_limit": "20 psi"}}


@pytest.mark.parametrize("path", ASKED)
@pytest.mark.parametrize("turned", [False, True])
def test_of_branches_with_equal_loss_the_first_is_the_largest(path, turned):
    # Parallel devices have the same loss except for rounding, which would choose one or the other by chance.
    branches = [_filter("a", "1.5 psi", "4.5 psi"), _filter("b", "2 psi", "5 psi")]
    for amount in range(3, 40):
        ask = {"flow": f"{amount / 3} gal/min"} if "drop" in path else {"pressure_drop_limit": f"{amount} psi"}
        answer = run(path, {**ask, "segments": [PIPE, *(reversed(branches) if turned else branches)]})
        assert answer.largest_loss_segment == "segments.1"


@pytest.mark.parametrize("path", ASKED)
@pytest.mark.parametrize(("least", "most"), [("14.5 psi", "14.51 psi"), ("0.000001 psi", "90 psi")])
def test_a_curve_that_leaves_a_branch_without_flow_is_refused(path, least, most):
    segments = [PIPE, _filter("a", "1.5 psi", "4.5 psi"), _filter("b", least, most)]
    with pytest.raises(RequestRefused) as refused:
        run(path, {**ASKED[path], "segments": segments})
    assert [(fault.pointer, fault.code) for fault in refused.value.faults] == [
        ("/segments/2/rated_points/1/pressure_drop", "rated_points_contradict")
    ]
    in_series = [PIPE, {key: value for key, value in segments[2].items() if key != "branch"}]
    assert run(path, {**ASKED[path], "segments": in_series}).pressure_drop > 0.0


def test_a_nearly_flat_curve_still_shares_the_flow():
    segments = [PIPE, _filter("a", "1.5 psi", "4.5 psi"), _filter("b", "1.0 psi", "1.1 psi")]
    answer = run("pipe/pressure-drop", {"flow": "9 gal/min", "units": "us", "segments": segments})
    shares = answer.segments[1:]
    assert shares[0].flow + shares[1].flow == pytest.approx(9.0, rel=1e-12)
    assert shares[0].pressure_drop == pytest.approx(shares[1].pressure_drop, rel=1e-11)
