"""Condensation: surfaces, insulation, properties, errors."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assertions import codes
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.run import run
from dosewright.tables import table
from dosewright.tables.site import insulation_materials, site_default
from dosewright.topics.site.contracts.condensation import InsulationName

PATH = "site/condensation"
PIPE = {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4"}
CHAMBER = {"kind": "chamber", "outer_diameter": "89 mm", "height": "0.9 m"}
# An invented summer cellar.
ROOM = {"air_temperature": "24 degC", "relative_humidity": "70 %", "water_temperature": "10 degC"}


def asked(*surfaces, **changes):
    return run(PATH, {**ROOM, "surfaces": list(surfaces) or [PIPE], **changes})


def test_bare_cold_pipe_and_chamber_sweat():
    answer = asked(PIPE, CHAMBER)
    assert answer.dew_point == pytest.approx(18.1938, abs=1e-4)  # psychrolib 2.5.0
    assert answer.sweats is True
    for surface in answer.surfaces:
        assert surface.surface_temperature == pytest.approx(10.0, abs=1e-9)
        assert surface.sweats is surface.sweats_bare is True
        assert 1.0 < surface.required_insulation_thickness < 30.0
    assert answer.surfaces[0].outer_diameter == pytest.approx(22.225)
    assert "surface_sweats" in codes(answer)
    assert {"controls_above_plumbing", "mould_from_damp"} <= {caution.code for caution in answer.cautions}


def test_the_insulation_returned_keeps_the_margin_and_less_does_not():
    for surface in (PIPE, CHAMBER):
        need = asked(surface).surfaces[0].required_insulation_thickness
        (enough,) = asked({**surface, "insulation_thickness": f"{need * 1.0001!r} mm"}).surfaces
        (short,) = asked({**surface, "insulation_thickness": f"{need * 0.99!r} mm"}).surfaces
        assert enough.margin_ok is True
        assert enough.sweats is False
        assert short.margin_ok is False
        margin = site_default("condensation_margin")[0] / 1.8
        assert enough.surface_temperature == pytest.approx(asked().dew_point + margin, abs=1e-3)


def test_a_surface_close_to_the_dew_point_gives_a_warning():
    need = asked(PIPE, margin="0 K").surfaces[0].required_insulation_thickness
    answer = asked({**PIPE, "insulation_thickness": f"{need * 1.01!r} mm"})
    assert answer.surfaces[0].sweats is False
    assert "margin_not_kept" in codes(answer)
    assert "margin_small" in codes(asked(margin="0.1 K"))
    assert "margin_small" not in codes(asked(margin="0.75 degF"))


def test_water_warmer_than_the_dew_point_needs_no_insulation():
    answer = asked(water_temperature="20 degC")
    assert answer.sweats is False
    assert answer.surfaces[0].required_insulation_thickness == 0.0
    assert asked(water_temperature="30 degC").highest_dry_humidity is None


def test_no_insulation_is_enough_in_saturated_air():
    answer = asked(relative_humidity="99 %")
    assert answer.surfaces[0].required_insulation_thickness is None
    assert "insulation_insufficient" in codes(answer)


def test_a_bare_surface_sweats_just_above_the_highest_humidity():
    limit = asked().highest_dry_humidity
    assert asked(relative_humidity=f"{limit * 0.999!r} %").sweats is False
    assert asked(relative_humidity=f"{limit * 1.001!r} %").sweats is True


def test_a_lower_emittance_or_an_upright_surface_needs_more_insulation():
    plain = asked(CHAMBER).surfaces[0].required_insulation_thickness
    assert asked(CHAMBER, emittance="10 %").surfaces[0].required_insulation_thickness > plain
    lying = asked({**CHAMBER, "height": None}).surfaces[0].required_insulation_thickness
    assert plain > lying


def test_an_entered_film_coefficient_is_used():
    wanted = asked().dew_point + 0.75 / 1.8
    r, k, h = 22.225e-3 / 2, 0.036, 8.0
    need = asked(film_coefficient="8 W/(m2.K)", insulation_conductivity="0.036 W/(m.K)")
    outer = r + need.surfaces[0].required_insulation_thickness / 1000
    through = (wanted - 10.0) * k / np.log(outer / r)
    assert h * outer * (24.0 - wanted) == pytest.approx(through, rel=1e-9)


@settings(max_examples=40)
@given(st.floats(5, 20), st.floats(21, 38), st.floats(20, 95), st.floats(20, 95), st.floats(0, 60), st.floats(0, 60))
def test_damper_air_and_thinner_insulation_never_help(water, air, one, other, thin, thick):
    thin, thick = sorted((thin, thick))
    dry, damp = sorted((one, other))
    base = {"air_temperature": f"{air} degC", "water_temperature": f"{water} degC"}
    surfaces = [{**PIPE, "insulation_thickness": f"{thin} mm"}, {**PIPE, "insulation_thickness": f"{thick} mm"}]
    low = asked(*surfaces, **base, relative_humidity=f"{dry} %")
    high = asked(*surfaces, **base, relative_humidity=f"{damp} %")
    assert low.dew_point <= high.dew_point
    for a, b in zip(low.surfaces, high.surfaces, strict=True):
        assert a.sweats <= b.sweats
        assert (a.required_insulation_thickness or 0.0) <= (b.required_insulation_thickness or np.inf)
    assert low.surfaces[0].surface_temperature <= low.surfaces[1].surface_temperature + 1e-9


def test_a_batch_is_its_single_calls():
    columns = {
        "air_temperature": [24.0, 30.0, 15.0, 24.0],
        "relative_humidity": [70.0, 90.0, 40.0, 99.5],
        "water_temperature": [10.0, 8.0, 12.0, 10.0],
    }
    fixed = {"surfaces": [{**PIPE, "insulation_thickness": 9.0}, CHAMBER], "units": "metric"}
    batch = run_batch(PATH, {**columns, **fixed})
    for row in range(4):
        single = run(PATH, {**{name: column[row] for name, column in columns.items()}, **fixed})
        for name, column in batch.columns.items():
            value = single
            for part in name.split("."):
                value = value[int(part)] if part.isdigit() else getattr(value, part)
            got = None if isinstance(column[row], float) and np.isnan(column[row]) else column[row]
            assert got == value, name


@pytest.mark.parametrize(
    ("surface", "fault"),
    [
        ({"kind": "pipe"}, ("/surfaces/0/outer_diameter", "required")),
        ({"kind": "pipe", "material": "pex_sdr9"}, ("/surfaces/0/nominal_size", "required")),
        ({**PIPE, "outer_diameter": "22 mm"}, ("/surfaces/0/outer_diameter", "conflicting_inputs")),
        ({**PIPE, "material": "pex_sdr9", "nominal_size": "4"}, ("/surfaces/0/nominal_size", "unknown_choice")),
    ],
)
def test_refusals(surface, fault):
    with pytest.raises(RequestRefused) as refusal:
        asked(surface)
    assert [(entry.pointer, entry.code) for entry in refusal.value.faults] == [fault]


def test_names_are_those_of_the_table():
    assert get_args(InsulationName) == tuple(insulation_materials())
    for row in table("insulation_materials").rows:
        # Btu·in/(h·ft²·degF) as NIST SP 811 prints it: 0.1442279 W/(m·K).
        expected = float(row["conductivity"]) * 0.1442279
        assert insulation_materials()[row["material"]].conductivity == pytest.approx(expected, rel=1e-6)


def test_air_too_dry_for_a_dew_point_needs_no_insulation():
    # The dew point lies far below any temperature at which the film beside the pipe is known; the water is warmer.
    answer = asked(PIPE, CHAMBER, air_temperature="-20 degC", relative_humidity="1 %")
    assert answer.dew_point < -50.0
    for surface in answer.surfaces:
        assert surface.required_insulation_thickness == 0.0
        assert surface.sweats is surface.sweats_bare is False
        assert surface.margin_ok is True
