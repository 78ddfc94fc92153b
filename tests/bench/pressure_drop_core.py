"""Friction factors of a million cases by arrays, against a loop over a reference library; prints the ratio.

Run: python tests/bench/pressure_drop_core.py [rows]
"""

import sys
import time

import numpy as np
from fluids import friction_factor as reference

from dosewright.core.hydraulics.friction import friction_factor

CHUNKS = (4096, 65536)
RELATIVE_ROUGHNESS = 1e-4


def best_of(count, task):
    best = float("inf")
    for _ in range(count):
        start = time.perf_counter()
        answer = task()
        best = min(best, time.perf_counter() - start)
    return best, answer


def in_chunks(reynolds, chunk):
    factors = np.empty_like(reynolds)
    for start in range(0, len(reynolds), chunk):
        part = slice(start, start + chunk)
        factors[part] = friction_factor(reynolds[part], RELATIVE_ROUGHNESS)
    return factors


def main():
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    generator = np.random.default_rng(1)
    ranges = {"turbulent": (4.0e3, 2.0e5), "laminar to turbulent": (5.0e2, 2.0e5)}
    print(f"{rows:,} rows, numpy {np.__version__}")
    for name, (low, high) in ranges.items():
        reynolds = generator.uniform(low, high, rows)
        plain = reynolds.tolist()
        loop, expected = best_of(2, lambda plain=plain: [reference(value, RELATIVE_ROUGHNESS) for value in plain])
        print(f"{name}: loop over fluids.friction_factor {loop / rows * 1e9:.0f} ns a row")
        for chunk in CHUNKS:
            arrays, got = best_of(5, lambda chunk=chunk, reynolds=reynolds: in_chunks(reynolds, chunk))
            turbulent = reynolds >= 4000.0
            off = np.max(np.abs(got[turbulent] / np.asarray(expected)[turbulent] - 1.0))
            print(
                f"  chunks of {chunk}: {arrays / rows * 1e9:.1f} ns a row, {loop / arrays:.0f} times the loop's rate; "
                f"largest turbulent deviation {off:.1e}"
            )


if __name__ == "__main__":
    main()
