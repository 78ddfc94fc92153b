"""How many nodes the integrals of light need: worst relative error over random chambers, against 96 nodes a piece.

Run: python tests/bench/field_convergence.py
"""

import numpy as np

from dosewright.core.light import lamp_integrals, opaque_ends
from dosewright.core.light.doses import dose_distribution, laminar_dose
from dosewright.core.light.field import Field
from dosewright.core.light.lamp_angles import Nodes, gauss_legendre
from dosewright.core.light.optics import SleeveOptics
from dosewright.core.light.survival import DoseResponse

CASES = 1000
SLEEVES = {
    "line_source": None,
    "refracted_line": SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757),
    "cosine_segments": SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757, "cosine"),
}
COUNTS = (6, 8, 10, 12, 16, 20, 24, 32)
REFERENCE = 96
ORGANISM = DoseResponse("first_order", 0.012)


def set_nodes(count):
    """Put so many nodes on each piece of every integral."""
    for name in ("STRAIGHT_NODES", "BENT_NODES", "WIDE_NODES"):
        setattr(lamp_integrals, name, Nodes(gauss_legendre(count), gauss_legendre(count)))
    points, weights = gauss_legendre(count)
    lamp_integrals._POINTS, lamp_integrals._WEIGHTS = points, weights
    opaque_ends._POINTS, opaque_ends._WEIGHTS = points, weights
    opaque_ends._LOCAL_POINTS, opaque_ends._LOCAL_WEIGHTS = points, weights


def set_radii(count):
    """Integrate the light at so many radii, between which it is interpolated."""
    dose_distribution._LINES = count
    dose_distribution._KNOTS = 0.5 - 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / count)
    dose_distribution._places.cache_clear()


def quantities(whole, short, absorption, middle):
    """Every integral over the same chambers, by name."""
    return {
        "chamber average": whole.average(1.0, absorption),
        "along a line": whole.line(1.0, absorption, middle),
        "at a point": whole.point(1.0, absorption, middle, 0.3 * whole.arc_length),
        "short chamber": short.average(1.0, absorption),
    }


def worst(found, exact):
    """Greatest relative error."""
    return float(np.max(abs(found / exact - 1.0)))


def main():
    """Print the tables."""
    draw = np.random.default_rng(2026)
    sleeve, arc = draw.uniform(0.010, 0.0175, CASES), draw.uniform(0.2, 1.2, CASES)
    bore, absorption = sleeve * draw.uniform(1.7, 6.0, CASES), -100.0 * np.log(draw.uniform(0.60, 0.9999, CASES))
    middle, stretch, cut = 0.5 * (sleeve + bore), draw.uniform(1.0, 2.0, CASES), draw.uniform(0.3, 1.0, CASES)
    for name, glass in SLEEVES.items():
        whole, short = (Field(arc, arc * by, sleeve, bore, glass) for by in (stretch, cut))
        set_nodes(REFERENCE)
        exact = quantities(whole, short, absorption, middle)
        print(f"\n{name}, nodes a piece".ljust(34) + "".join(f"{count:>10}" for count in COUNTS))
        errors = {quantity: [] for quantity in exact}
        for count in COUNTS:
            set_nodes(count)
            for quantity, found in quantities(whole, short, absorption, middle).items():
                errors[quantity].append(worst(found, exact[quantity]))
        for quantity, row in errors.items():
            print(quantity.ljust(33) + "".join(f"{error:>10.0e}" for error in row))
        set_nodes(24)
        set_radii(28)
        reference = laminar_dose.laminar_dose(whole, 20.0, absorption, 1e-4, ORGANISM)[0]
        radii = (6, 8, 10, 12, 14, 16)
        row = []
        for count in radii:
            set_radii(count)
            row.append(worst(laminar_dose.laminar_dose(whole, 20.0, absorption, 1e-4, ORGANISM)[0], reference))
        print("laminar RED, radii".ljust(33) + "".join(f"{count:>10}" for count in radii))
        print("".ljust(33) + "".join(f"{error:>10.0e}" for error in row))


if __name__ == "__main__":
    main()
