"""Ratings of pipes by temperature, and the stiffness of their walls."""

from __future__ import annotations

import pytest

from assertions import codes
from dosewright.core.hydraulics import surge
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run
from dosewright.tables.pipe_walls import stiffness
from dosewright.tables.pipes import pipe_materials
from dosewright.topics.pipe.run.ratings import ratings_of

PSI = 6894.757293168
VELOCITY, DROP = "pipe/velocity", "pipe/pressure-drop"


@pytest.mark.parametrize(
    ("size", "printed"), [("1/2", 848), ("3/4", 688), ("1", 630), ("1-1/4", 520), ("1-1/2", 471), ("2", 404)]
)
def test_design_stress_gives_the_printed_ratings_of_schedule_80(size: str, printed: float) -> None:
    # Distributor's table of PVC 12454 and CPVC 23447 pipe schedule 80 at 73 degF, undated.
    known = ratings_of("pvc_schedule_80", size)
    assert known is not None
    assert known.pressures[0] == pytest.approx(printed * PSI, rel=0.01)


@pytest.mark.parametrize(
    ("material", "size", "temperature", "rated"),
    [
        ("cpvc_sdr11", "3/4", "82 degC", 100.0),  # PPFA Bulletin 2-80 (1980), table: 180 degF
        ("pex_sdr9", "3/4", "82 degC", 100.0),  # maker's guide, ratings of ASTM F876 tubing: 180 degF
        ("copper_type_m", "3/4", "60 degC", 346.0),  # Copper Tube Handbook, table 3c: 150 degF
        ("pvc_schedule_40", "1", "59 degC", 99.0),  # 450 psi x 0.22 (maker's derating table, 140 degF)
    ],
)
def test_a_pressure_above_the_rating_gives_a_warning(material: str, size: str, temperature: str, rated: float) -> None:
    base = {"flow": "1 gal/min", "material": material, "nominal_size": size, "water_temperature": temperature}
    surge = run(VELOCITY, base).surge_pressure / 100.0 * 14.503773773  # kPa in the metric profile
    low, high = (f"{factor * rated - surge!r} psi" for factor in (0.95, 1.05))
    assert "above_rated_pressure" not in codes(run(VELOCITY, {**base, "static_pressure": low}))
    assert "above_rated_pressure" in codes(run(VELOCITY, {**base, "static_pressure": high}))
    pipe = {"kind": "pipe", "material": material, "nominal_size": size, "length": "10 m"}
    line = {"flow": "1 gal/min", "segments": [pipe], "water_temperature": temperature}
    assert "above_rated_pressure" not in codes(run(DROP, {**line, "inlet_pressure": f"{0.95 * rated} psi"}))
    given = run(DROP, {**line, "inlet_pressure": f"{1.05 * rated} psi"})
    (warning,) = (one for one in given.warnings if one.code == "above_rated_pressure")
    assert "burst" in warning.message
    fall = {"kind": "elevation", "elevation_change": f"{-0.1 * rated * PSI / 9806.65!r} m"}
    falling = {**line, "segments": [fall, pipe], "inlet_pressure": f"{0.95 * rated} psi"}
    assert "above_rated_pressure" in codes(run(DROP, falling))


def test_above_the_last_temperature_there_is_no_rating() -> None:
    base = {"flow": "5 gal/min", "material": "pvc_schedule_40", "nominal_size": "1"}
    assert "above_rated_temperature" in codes(run(VELOCITY, {**base, "water_temperature": "65 degC"}))
    assert "above_rated_temperature" not in codes(run(VELOCITY, {**base, "water_temperature": "15 degC"}))
    rows = run_batch(VELOCITY, {**base, "water_temperature": ["15 degC", "65 degC", "59 degC"]})
    (warning,) = (one for one in rows.warnings if one.code == "above_rated_temperature")
    assert warning.rows == [1]


def test_an_unknown_rating_gives_a_warning() -> None:
    base = {"flow": "5 gal/min", "material": "pe_sidr9", "nominal_size": "1"}
    assert "pressure_rating_not_known" in codes(run(VELOCITY, {**base, "static_pressure": "60 psi"}))
    assert "above_rated_temperature" in codes(run(VELOCITY, {**base, "water_temperature": "45 degC"}))


def test_every_material_has_ratings_or_a_warning() -> None:
    without = {
        material
        for material, made_of in pipe_materials().items()
        for size in made_of.sizes
        if (known := ratings_of(material, size)) is None or not known.pressures
    }
    assert all(one.startswith(("pe_", "copper", "steel", "galvanized")) for one in without)


@pytest.mark.parametrize("material", ["pvc_schedule_40", "cpvc_sdr11", "pex_sdr9", "pe_sidr9"])
def test_a_colder_plastic_pipe_has_the_higher_surge(material: str) -> None:
    temperatures = [2.0, 10.0, 20.0, 30.0, 40.0]
    rows = run_batch(
        VELOCITY,
        {
            "flow": "4 gal/min",
            "material": material,
            "nominal_size": "3/4",
            "water_temperature": {"value": temperatures, "unit": "degC"},
        },
    )
    surges = rows["surge_pressure"].tolist()
    assert surges == sorted(surges, reverse=True)
    assert surges[0] > 1.03 * surges[-1]


def test_pex_uses_its_stiffest_grade_and_an_entered_modulus_replaces_it() -> None:
    # Maker's table of surge pressures in PEX: 67425 psi at 20 degC, 50750 at 30 degC, 33060 at 40 degC.
    for degrees, printed in ((20, 67425.0), (30, 50750.0), (40, 33060.0)):
        base = {
            "flow": "4 gal/min",
            "material": "pex_sdr9",
            "nominal_size": "3/4",
            "water_temperature": f"{degrees} degC",
        }
        named = run(VELOCITY, base)
        given = run(VELOCITY, {**base, "elastic_modulus": f"{printed * PSI / 1e6!r} MPa"})
        assert stiffness("pex_printed").moduli[degrees // 10 - 1] == pytest.approx(printed * PSI, rel=1e-12)
        # The wave is far slower than sound, so the surge is proportional to the root of the modulus.
        assert named.surge_pressure > 1.25 * given.surge_pressure
        assert "stiffest_grade" in codes(named)
        assert "stiffest_grade" not in codes(given)


def test_the_stiffest_pex_at_73_degf() -> None:
    # 116000 psi at 73 degF: from memory.
    base = {"flow": "4 gal/min", "material": "pex_sdr9", "nominal_size": "3/4", "water_temperature": "73 degF"}
    named = run(VELOCITY, base)
    given = run(VELOCITY, {**base, "elastic_modulus": f"{116000 * PSI / 1e6!r} MPa"})
    assert named.surge_pressure == pytest.approx(given.surge_pressure, rel=1e-9)
    sources = " ".join(basis.source for basis in named.basis)
    assert "stiffest grade [from memory]" in sources
    assert "extrapolated to 0 degC in the logarithm [computed]" in sources


def test_pex_is_never_softer_than_the_printed_grade() -> None:
    stiff, printed = stiffness("pex"), stiffness("pex_printed")
    for degrees in range(83):
        kelvin = 273.15 + degrees
        assert surge.modulus_at(kelvin, stiff.temperatures, stiff.moduli) >= surge.modulus_at(
            kelvin, printed.temperatures, printed.moduli
        )
