"""The SDK's ``Client`` against its HTTP library used bare, on the same endpoint of one server; rounds alternate.

Two bare uses: bytes out and bytes in, and what a script does without the SDK (a dict out as JSON, a dict in).

Run: python tests/bench/sdk_client.py [calls a round]
"""

import json
import os
import ssl
import statistics
import sys
import time

import httpx2
from load import apart, post_request
from processes import free_port, service

from dosewright_sdk import Client

ROUNDS = 9
PAYLOAD = {"flow": "9 gal/min", "bore": "20 mm", "water_temperature": "12 degC"}
PATH = "/v1/pipe/velocity"


def microseconds(task, calls):
    """Return the mean time of a call."""
    start = time.perf_counter()
    for _ in range(calls):
        task()
    return (time.perf_counter() - start) / calls * 1e6


def main():
    """Measure and print."""
    calls = int(sys.argv[1]) if len(sys.argv) > 1 else 1500
    port, body, headers = free_port(), json.dumps(PAYLOAD).encode(), {"content-type": "application/json"}
    base = f"http://127.0.0.1:{port}"
    plain = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)  # as the SDK does for http: no certificates are read
    with (
        service(port, post_request(PATH, body)) as server,
        httpx2.Client(base_url=base, verify=plain) as bare,
        Client(base) as sdk,
    ):
        apart(server)()
        tasks = {
            "httpx2, bytes": lambda: bare.post(PATH, content=body, headers=headers).content,
            "httpx2, JSON": lambda: bare.post(PATH, json=PAYLOAD).json(),
            "SDK Client": lambda: sdk.pipe.velocity(**PAYLOAD),
        }
        for task in tasks.values():
            microseconds(task, 200)
        times = {name: [] for name in tasks}
        for _ in range(ROUNDS):
            for name, task in tasks.items():
                times[name].append(microseconds(task, calls))
    print(f"{ROUNDS} rounds of {calls} calls, one connection, {os.cpu_count()} processors")
    for name, taken in times.items():
        print(f"{name:14s} best {min(taken):6.1f} us  median {statistics.median(taken):6.1f} us a call")
    for name in list(tasks)[:2]:
        ratios = [ours / theirs for ours, theirs in zip(times["SDK Client"], times[name], strict=True)]
        middle = statistics.median(ratios)
        print(f"ratio SDK / {name}: median {middle:.2f}, from {min(ratios):.2f} to {max(ratios):.2f}")


if __name__ == "__main__":
    main()
