"""Rate of ``POST /v1/pipe/velocity`` against a bare Litestar handler behind the same middleware, in one run.

The bare handler is Litestar's default kind: it decodes a struct of eight floats and sends it back, and calculates
nothing. Both stand behind the same middleware (other origins, common headers, packing) and run in one worker of the
same ASGI server with the same settings; rounds alternate.

Run: python tests/bench/http_endpoint.py [seconds a round]
"""

import json
import logging
import os
import statistics
import sys
from pathlib import Path

import msgspec
import uvicorn
from litestar import Litestar, post
from litestar.config.cors import CORSConfig
from load import CONNECTIONS, apart, once, post_request, requests_per_second
from processes import free_port, running, service

from dosewright.http.bounded_head import BoundedHead
from dosewright.http.middleware import CommonToReplies

ROUNDS = 5
ORIGIN = "https://page.example"
VELOCITY = {"flow": "9 gal/min", "bore": "20 mm", "water_temperature": "12 degC"}
FLOATS = {name: 1.0 / (3 + index) for index, name in enumerate("abcdefgh")}


class EightFloats(msgspec.Struct):
    """What the bare handler takes and gives."""

    a: float
    b: float
    c: float
    d: float
    e: float
    f: float
    g: float
    h: float


@post("/echo")
async def echo(data: EightFloats) -> EightFloats:
    """Send back what came."""
    return data


def serve_bare(port):
    """Serve the bare handler with the settings of ``dosewright serve``."""
    app = Litestar([echo], logging_config=None, cors_config=CORSConfig(allow_origins=[ORIGIN]))
    app.asgi_handler = CommonToReplies(app.asgi_handler, shared=True)
    logging.basicConfig(level="WARNING")
    settings = {
        "http": BoundedHead,
        "ws": "none",
        "access_log": False,
        "server_header": False,
        "proxy_headers": False,
        "log_config": None,
    }
    uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, timeout_keep_alive=30, **settings)).run()


def processor_seconds(pid):
    """Return the processor time that a process took so far."""
    after_name = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def main():
    """Measure and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    bare_port, our_port = free_port(), free_port()
    bare = post_request("/echo", json.dumps(FLOATS).encode())
    ours = post_request("/v1/pipe/velocity", json.dumps(VELOCITY).encode())
    with (
        running([sys.executable, __file__, "--bare", str(bare_port)], bare_port, bare) as bare_pid,
        service(our_port, ours, "--cors-origin", ORIGIN) as our_pid,
    ):
        apart(bare_pid)
        apart(our_pid)()
        rates, costs = {"bare": [], "ours": []}, {"bare": [], "ours": []}
        for _ in range(ROUNDS):
            for name, pid, port, request in (("bare", bare_pid, bare_port, bare), ("ours", our_pid, our_port, ours)):
                before = processor_seconds(pid)
                rates[name].append(requests_per_second(port, request, seconds))
                costs[name].append((processor_seconds(pid) - before) / (rates[name][-1] * seconds) * 1e6)
        sizes = {"bare": len(once(bare_port, bare)), "ours": len(once(our_port, ours))}
    print(f"{CONNECTIONS} connections, one worker, {ROUNDS} rounds of {seconds:g} s, {os.cpu_count()} processors")
    for name, title in (("bare", "bare Litestar handler, echo"), ("ours", "POST /v1/pipe/velocity")):
        best, middle = max(rates[name]), statistics.median(rates[name])
        print(f"{title:28s} best {best:8,.0f}/s  median {middle:8,.0f}/s  reply {sizes[name]} bytes")
    ratios = [ours / bare for ours, bare in zip(rates["ours"], rates["bare"], strict=True)]
    print(f"ratio ours/bare: median {statistics.median(ratios):.2f}, from {min(ratios):.2f} to {max(ratios):.2f}")
    # On a machine that others use too, the processor time of the server says more than the rate.
    bare_cost, our_cost = statistics.median(costs["bare"]), statistics.median(costs["ours"])
    print(
        f"processor time a request: bare {bare_cost:.0f} us, ours {our_cost:.0f} us, ratio {bare_cost / our_cost:.2f}"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--bare"]:
        serve_bare(int(sys.argv[2]))
    else:
        main()
