"""A million rows of pipe/pressure-drop in process, request to answer, against loops over a reference library.

Run: python tests/bench/pressure_drop_batch.py [rows]
"""

import resource
import sys
import time

import fluids
import numpy as np
from fluids import friction_factor

from dosewright.core.hydraulics import pipe
from dosewright.core.water_and_air import water
from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.run import run

PATH = "pipe/pressure-drop"
SEGMENT = {"kind": "pipe", "length": "20 m", "material": "copper_type_l", "nominal_size": "3/4"}
BORE, ROUGHNESS, TEMPERATURE = 0.019939, 1.5e-6, 283.15
RELATIVE = ROUGHNESS / BORE
FLOWS = {"turbulent": (6.0, 40.0), "transition to turbulent": (3.0, 40.0), "laminar to turbulent": (0.5, 40.0)}
LIBRARY_ROWS = 20_000


def best_of(count, task):
    best = float("inf")
    for _ in range(count):
        start = time.perf_counter()
        answer = task()
        best = min(best, time.perf_counter() - start)
    return best, answer


def request(flows):
    return {"flow": {"value": flows, "unit": "L/min"}, "segments": [SEGMENT]}


def library_drops(flows):
    density, viscosity = water.density(TEMPERATURE), water.dynamic_viscosity(TEMPERATURE)
    masses = (flows / 60000.0 * density).tolist()
    return [fluids.one_phase_dP(mass, density, viscosity, BORE, roughness=ROUGHNESS, L=20.0) for mass in masses]


def main():
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    generator = np.random.default_rng(1)
    viscosity = water.kinematic_viscosity(TEMPERATURE)
    print(f"{rows:,} rows of one straight pipe, numpy {np.__version__}")
    print(f"{'flows':<26}{'ns a row':>10}{'bare loop':>12}{'ratio':>7}{'loop of drops':>15}{'ratio':>7}")
    for name, (low, high) in FLOWS.items():
        flows = generator.uniform(low, high, rows)
        run_batch(PATH, request(flows))
        ours, answer = best_of(7, lambda flows=flows: run_batch(PATH, request(flows)))
        reynolds = pipe.reynolds_number(pipe.velocity(flows / 60000.0, BORE), BORE, viscosity).tolist()
        bare, _ = best_of(2, lambda reynolds=reynolds: [friction_factor(value, RELATIVE) for value in reynolds])
        drops, expected = best_of(2, lambda flows=flows: library_drops(flows[:LIBRARY_ROWS]))
        outside_transition = np.abs(np.array(reynolds[:LIBRARY_ROWS]) - 3000.0) > 1000.0
        off = np.abs(answer["pressure_drop"][:LIBRARY_ROWS] * 1e3 / np.array(expected) - 1.0)[outside_transition]
        assert off.max() < 1e-11, off.max()
        bare, drops = bare / rows * 1e9, drops / LIBRARY_ROWS * 1e9
        ours = ours / rows * 1e9
        print(f"{name:<26}{ours:>10.1f}{bare:>12.0f}{bare / ours:>7.1f}{drops:>15.0f}{drops / ours:>7.1f}")
    print_memory(generator)
    single, _ = best_of(5, lambda: [run(PATH, {"flow": "30 L/min", "segments": [SEGMENT]}) for _ in range(1000)])
    print(f"one call of it in process: {single * 1e3:.1f} µs")


def print_memory(generator):
    """Print what a batch needs beside its columns: it should not grow with the rows."""
    for rows in (1_000_000, 4_000_000):
        flows = generator.uniform(6.0, 40.0, rows)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        answer = run_batch(PATH, request(flows))
        numbers = [column for column in answer.columns.values() if isinstance(column, np.ndarray) and column.strides[0]]
        texts = [column for column in answer.columns.values() if isinstance(column, list)]
        held = (sum(column.nbytes for column in numbers) + sum(8 * len(column) for column in texts)) / 2**20
        grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 2**10
        print(f"{rows:>9,} rows: answer {held:.0f} MB, peak of the process grew by {grown:.0f} MB")


if __name__ == "__main__":
    main()
