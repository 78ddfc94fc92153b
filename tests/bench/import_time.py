"""What ``import dosewright_sdk`` adds to ``import numpy, msgspec``: fresh processes, alternating.

Run: python tests/bench/import_time.py [rounds]
"""

import os
import statistics
import subprocess
import sys
import tempfile

SCRIPT = """
import time
start = time.perf_counter()
import numpy, msgspec
middle = time.perf_counter()
import dosewright_sdk
end = time.perf_counter()
import sys
heavy = [name for name in ("litestar", "pint", "matplotlib", "httpx2", "uvicorn", "fluids") if name in sys.modules]
print((middle - start) * 1e3, (end - middle) * 1e3, len(sys.modules), ",".join(heavy) or "none")
"""


def main():
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    command = [sys.executable, "-c", SCRIPT]
    with tempfile.TemporaryDirectory() as folder:
        # As installed: with byte code, which a developer's machine may be told not to write.
        env = {**os.environ, "PYTHONPYCACHEPREFIX": folder, "PYTHONDONTWRITEBYTECODE": ""}
        runs = [
            subprocess.run(command, check=True, capture_output=True, text=True, env=env).stdout.split()
            for _ in range(rounds + 1)
        ][1:]  # the first one writes it
    base, added = [float(run[0]) for run in runs], [float(run[1]) for run in runs]
    print(f"import numpy, msgspec:  best {min(base):6.1f} ms  median {statistics.median(base):6.1f} ms")
    print(f"import dosewright_sdk:  best {min(added):6.1f} ms  median {statistics.median(added):6.1f} ms more")
    print(f"heavy libraries loaded: {runs[0][3]}; modules in all: {runs[0][2]}")


if __name__ == "__main__":
    main()
