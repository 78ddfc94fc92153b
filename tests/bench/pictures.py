"""Time of a picture over HTTP, warm: each calculation that has one, as SVG and as PNG.

Run: python tests/bench/pictures.py [rounds]
"""

import http.client
import statistics
import sys
import time

from processes import free_port, service

from dosewright.engine.registry import calculations
from dosewright.engine.run import run
from dosewright.present.picture.rendering import FORMS
from dosewright.present.views import pictured_paths

WANTED = 300.0  # milliseconds


def milliseconds(connection, target):
    """Return the time of one answer and its size."""
    start = time.perf_counter()
    connection.request("GET", target)
    reply = connection.getresponse()
    body = reply.read()
    if reply.status != 200:
        raise RuntimeError(f"{target}: {reply.status} {body[:200]!r}")
    return (time.perf_counter() - start) * 1e3, len(body)


def main():
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    port = free_port()
    with service(port, b"GET /health/ready HTTP/1.1\r\nhost: a\r\n\r\n"):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        first, _ = milliseconds(connection, f"{run('uv/dose', calculations()['uv/dose'].example).question}&format=svg")
        print(f"first picture of a process (loads matplotlib): {first:.0f} ms")
        for path in pictured_paths():
            question = run(path, calculations()[path].example).question
            for form in FORMS:
                taken = [milliseconds(connection, f"{question}&format={form}") for _ in range(rounds)]
                times, size = [milli for milli, _ in taken], taken[0][1]
                worst, middle = max(times), statistics.median(times)
                verdict = "met" if worst < WANTED else "MISSED"
                spent = f"median {middle:5.0f} ms  worst {worst:5.0f} ms"
                print(f"{path:22s} {form}  {spent}  {size / 1000:4.0f} kB  {verdict}")


if __name__ == "__main__":
    main()
