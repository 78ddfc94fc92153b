"""Chamber averages a second on one core, both models, and the time of one.

Run: python tests/bench/fluence.py
"""

import os
import time

import numpy as np

from dosewright.core.light import fluence
from dosewright.core.light.optics import SleeveOptics

CASES = 200_000
SLEEVE = SleeveOptics(0.0015, 5.0, 1.0003, 1.5055, 1.3757)
MODELS = [("line_source", None, 1_000_000), ("refracted_line", SLEEVE, 1_000_000)]


def chambers(count):
    """Absorption, arc, chamber, sleeve radius, bore radius: every one of them different in every case."""
    draw = np.random.default_rng(2026)
    sleeve = draw.uniform(0.010, 0.0175, count)
    arc = draw.uniform(0.2, 1.2, count)
    uvt = draw.uniform(0.60, 0.9999, count)
    return (
        -100.0 * np.log(uvt),
        arc,
        arc * draw.uniform(1.0, 2.0, count),
        sleeve,
        sleeve * draw.uniform(1.7, 6.0, count),
    )


def best(function, repeats):
    """Least time of several runs [s]."""
    times = []
    for _ in range(repeats):
        started = time.perf_counter()
        function()
        times.append(time.perf_counter() - started)
    return min(times)


def main():
    """Print the table."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    cases = chambers(CASES)
    single = [float(value[0]) for value in cases]
    curve = np.linspace(0.01, 50.0, 1000)
    print(
        f"{'model':<16}{'averages/s':>12}{'target':>12}{'ratio':>7}{'one':>11}{'with walls':>12}{'UVT curve, 1000':>19}"
    )
    for name, sleeve, target in MODELS:
        rate = CASES / best(lambda s=sleeve: fluence.chamber_average(1.0, *cases, s), 5)
        one = best(lambda s=sleeve: [fluence.chamber_average(1.0, *single, s) for _ in range(500)], 5) / 500
        walls = best(lambda s=sleeve: [fluence.chamber_fluence_rates(1.0, *single, s) for _ in range(500)], 5) / 500
        many = best(lambda s=sleeve: fluence.chamber_average(1.0, curve, *single[1:], s), 20)
        print(
            f"{name:<16}{rate:>12,.0f}{target:>12,}{rate / target:>7.2f}"
            f"{one * 1e6:>8.1f} µs{walls * 1e6:>9.1f} µs{many * 1e6:>16.0f} µs"
        )


if __name__ == "__main__":
    main()
