"""Whole runs of ten segments in one batch, against a loop over a reference library; a split and an inverse beside them.

Run: python tests/bench/pipe_run_batch.py [rows]
"""

import sys
import time

import fluids
import numpy as np
from fluids.fittings import Hooper2K

from dosewright.core.water_and_air import water
from dosewright.engine.batch.columnwise import run_batch

DROP, LARGEST = "pipe/pressure-drop", "pipe/largest-flow"
TEMPERATURE = 283.15
BORES = (0.026035, 0.019939, 0.013843)  # copper type L of 1, 3/4 and 1/2 in
LENGTHS = (12.0, 9.0, 4.0)
ROUGHNESS = 1.5e-6
ELBOWS = (4, 6, 3)
LIBRARY_ROWS = 5_000

SEGMENTS = [
    {"kind": "pipe", "length": "12 m", "material": "copper_type_l", "nominal_size": "1"},
    {"kind": "fitting", "fitting": "elbow_90", "count": 4},
    {"kind": "device", "kv": "4.2"},
    {"kind": "device", "rated_points": [{"rated_flow": "40 L/min", "pressure_drop": "28 kPa"}]},
    {"kind": "pipe", "length": "9 m", "material": "copper_type_l", "nominal_size": "3/4"},
    {"kind": "fitting", "fitting": "elbow_90", "count": 6},
    {"kind": "fitting", "loss_coefficient": "0.9", "count": 2},
    {"kind": "elevation", "elevation_change": "3 m"},
    {"kind": "pipe", "length": "4 m", "material": "copper_type_l", "nominal_size": "1/2"},
    {"kind": "fitting", "fitting": "elbow_90", "count": 3},
]
SIDE_BY_SIDE = [*SEGMENTS[:2], *({**SEGMENTS[3], "branch": letter} for letter in "ab"), *SEGMENTS[4:]]


def best_of(count, task):
    best, answer = float("inf"), None
    for _ in range(count):
        start = time.perf_counter()
        answer = task()
        best = min(best, time.perf_counter() - start)
    return best, answer


def library_run(flow, density, viscosity):
    """Return the pressure drop of SEGMENTS, written as a user of the library would."""
    total = density * 9.80665 * 3.0
    for place, (bore, length, elbows) in enumerate(zip(BORES, LENGTHS, ELBOWS, strict=True)):
        speed = flow / (0.7853981633974483 * bore * bore)
        reynolds = fluids.Reynolds(V=speed, D=bore, rho=density, mu=viscosity)
        factor = fluids.friction_factor(Re=reynolds, eD=ROUGHNESS / bore)
        loss = fluids.K_from_f(fd=factor, L=length, D=bore)
        loss += elbows * Hooper2K(bore / 0.0254, reynolds, K1=800, Kinfty=0.4)
        if place == 1:
            loss += 2 * 0.9
        total += fluids.dP_from_K(loss, rho=density, V=speed)
    return total + 1e5 * density / 1000.0 * (flow * 3600.0 / 4.2) ** 2 + 28e3 * (flow * 60000.0 / 40.0) ** 2


def main():
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    flows = np.random.default_rng(1).uniform(8.0, 40.0, rows)
    column = {"value": flows, "unit": "L/min"}
    density, viscosity = water.density(TEMPERATURE), water.dynamic_viscosity(TEMPERATURE)

    ours, answer = best_of(5, lambda: run_batch(DROP, {"flow": column, "segments": SEGMENTS}))
    few = (flows[:LIBRARY_ROWS] / 60000.0).tolist()
    loop, expected = best_of(3, lambda: [library_run(flow, density, viscosity) for flow in few])
    off = np.abs(answer["pressure_drop"][:LIBRARY_ROWS] * 1e3 / np.array(expected) - 1.0).max()
    assert off < 1e-9, off
    assert not answer.errors
    ours, loop = ours / rows * 1e6, loop / LIBRARY_ROWS * 1e6
    print(f"{rows:,} runs of {len(SEGMENTS)} segments, numpy {np.__version__}; agreement {off:.0e}")
    print(f"one batch call           {ours:8.2f} µs a run")
    print(f"loop over the library    {loop:8.2f} µs a run, {loop / ours:.1f} times as long")
    split, answer = best_of(3, lambda: run_batch(DROP, {"flow": column, "segments": SIDE_BY_SIDE}))
    print(f"with two units in split  {split / rows * 1e6:8.2f} µs a run")
    limit = {"value": np.linspace(60.0, 400.0, rows), "unit": "kPa"}
    back, answer = best_of(3, lambda: run_batch(LARGEST, {"segments": SEGMENTS, "pressure_drop_limit": limit}))
    assert np.allclose(answer["pressure_drop"], limit["value"], rtol=1e-11)
    print(f"largest flow, the inverse{back / rows * 1e6:8.2f} µs a run")


if __name__ == "__main__":
    main()
