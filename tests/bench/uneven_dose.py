"""Dose distributions a second, a derating curve, a Monte Carlo interval, single answers; on one core.

Run: python tests/bench/uneven_dose.py
"""

import os
import resource
import time

import numpy as np

from dosewright.core.light import fluence
from dosewright.core.light.doses import laminar_dose
from dosewright.core.light.field import Field
from dosewright.core.light.optics import SleeveOptics
from dosewright.core.light.survival import DoseResponse
from dosewright.engine.registry import find
from dosewright.engine.run import run

CASES = 50_000
SLEEVE = SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757)
ORGANISM = DoseResponse("first_order", 0.012)
FIRST_ORDER = {"inactivation_rate": "0.12 cm2/mJ"}
SHOULDER = {"dose_response": {"kind": "shoulder", "rate": "0.2 cm2/mJ", "shoulder_dose": "8 mJ/cm2"}}
TAIL = {
    "dose_response": {
        "kind": "two_groups",
        "rate": "0.3 cm2/mJ",
        "resistant_fraction": 0.001,
        "resistant_rate": "0.05 cm2/mJ",
    }
}
LAMINAR, TANKS = {"hydraulics": "laminar"}, {"hydraulics": "tanks_in_series", "tanks": "3"}
PASSAGES = {
    "plug flow": {"hydraulics": "plug_flow"},
    "laminar": {**LAMINAR, **FIRST_ORDER},
    "laminar, shoulder": {**LAMINAR, **SHOULDER},
    "laminar, tail": {**LAMINAR, **TAIL},
    "tanks": {**TANKS, **FIRST_ORDER},
    "tanks, shoulder": {**TANKS, **SHOULDER},
    "tanks, tail": {**TANKS, **TAIL},
}
SLEEVES = {"kind": "range", "of": "sleeve_transmittance", "low": "95 %", "high": "102 %"}


def best(function, repeats):
    """Least time of several runs [s]."""
    times = []
    for _ in range(repeats):
        started = time.perf_counter()
        function()
        times.append(time.perf_counter() - started)
    return min(times)


def line(name, measured, target, unit, *, more_is_better):
    """Print one measurement and its ratio to the target, above 1 where it is met."""
    ratio = measured / target if more_is_better else target / measured
    print(f"{name:<52}{measured:>14,.2f} {unit:<10}target {target:>12,.0f}{ratio:>8.2f}")


def without_passage(path):
    """Return the example of a calculation without its hydraulics and organism."""
    passage = {"hydraulics", "tanks", "inactivation_rate"}
    return {name: value for name, value in find(path).example.items() if name not in passage}


def main():
    """Print the table."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    draw = np.random.default_rng(2026)
    sleeve, arc = draw.uniform(0.010, 0.0175, CASES), draw.uniform(0.2, 1.2, CASES)
    absorption = -100.0 * np.log(draw.uniform(0.60, 0.9999, CASES))
    sizes = (arc, arc * draw.uniform(1.0, 2.0, CASES), sleeve, sleeve * draw.uniform(1.7, 6.0, CASES))
    for name, glass in (("plain", None), ("refracted", SLEEVE)):
        field = Field(*sizes, glass)
        spent = best(lambda f=field: laminar_dose.laminar_dose(f, 20.0, absorption, 1e-4, ORGANISM), 3)
        line(f"64-streamline distributions, {name}", CASES / spent, 50_000, "1/s", more_is_better=True)

    uvts = ",".join(f"{60 + 0.35 * i:.2f}" for i in range(100)) + " %"
    for name, passage in PASSAGES.items():
        curve = {**without_passage("uv/derating-curve"), **passage, "uvts": uvts}
        spent = best(lambda c=curve: run("uv/derating-curve", c), 30)
        line(f"derating curve, 100 points, {name}", spent * 1e3, 2, "ms", more_is_better=False)
    chances = {**without_passage("uv/uncertainty"), "draws": "10000"}
    for name, sleeves in (("", []), (", sleeve too", [SLEEVES])):
        for passage in ("plug flow", "laminar", "tanks, shoulder"):
            asked = {**chances, **PASSAGES[passage], "spreads": [*chances["spreads"], *sleeves]}
            spent = best(lambda a=asked: run("uv/uncertainty", a), 10)
            line(f"interval, 10,000 draws, {passage}{name}", spent * 1e3, 30, "ms", more_is_better=False)
    for path, target in (("pipe/velocity", 40), ("uv/dose", 200), ("uv/derated-flow", 200)):
        example = find(path).example
        spent = best(lambda p=path, e=example: [run(p, e) for _ in range(200)], 5) / 200
        line(f"{path}, one answer", spent * 1e6, target, "µs", more_is_better=False)

    many = np.tile(absorption, 20)
    wide = tuple(np.tile(value, 20) for value in sizes)
    spent = best(lambda: fluence.chamber_average(1.0, many, *wide), 1)
    line("chamber averages, 1,000,000 different", many.size / spent, 1_000_000, "1/s", more_is_better=True)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory so far: {most:.0f} MB, inputs and answers included")


if __name__ == "__main__":
    main()
