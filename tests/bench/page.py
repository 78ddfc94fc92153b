"""The page in headless Chromium: time to the first answer and picture, and the weight of all that is fetched.

Run: python tests/bench/page.py [rounds]
"""

import statistics
import sys
import time
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "browser"))
sys.path.append(str(Path(__file__).parents[1]))

from browsing import browser, tab_in
from processes import free_port, service

WANTED, HEAVIEST = 1000.0, 300_000  # milliseconds, bytes
PATHS = ("uv/derated-flow", "chlorine/shock", "pipe/pressure-drop")


def opened(started, base, path):
    """Return the time to the answer and to the picture, and the weight, of one fresh window."""
    with tab_in(started, base) as tab:
        start = time.perf_counter()
        tab.page.goto(f"{base}/#{path}")
        tab.page.wait_for_selector(".lines")
        answered = time.perf_counter() - start
        tab.page.wait_for_selector(".picture img", state="attached")
        tab.page.locator(".picture img").evaluate("image => image.decode()")
        drawn = time.perf_counter() - start
        tab.settled()
        return answered * 1e3, drawn * 1e3, sum(tab.sizes.values())


def main():
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    port = free_port()
    base = f"http://127.0.0.1:{port}"
    with service(port, b"GET /health/ready HTTP/1.1\r\nhost: a\r\n\r\n"), browser() as started:
        cold, drawn, _ = opened(started, base, PATHS[0])
        print(f"first window of a fresh service and browser: answer {cold:.0f} ms, picture {drawn:.0f} ms")
        for path in PATHS:
            rows = [opened(started, base, path) for _ in range(rounds)]
            answers, pictures, weights = zip(*rows, strict=True)
            met = max(answers) < WANTED and max(weights) < HEAVIEST
            spent = f"answer median {statistics.median(answers):4.0f} worst {max(answers):4.0f} ms"
            weight = f"picture {statistics.median(pictures):4.0f} ms, {max(weights) / 1000:.0f} kB"
            print(f"{path:20s} {spent}, {weight}  {'met' if met else 'MISSED'}")


if __name__ == "__main__":
    main()
