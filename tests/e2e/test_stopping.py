"""SIGTERM: requests in flight are answered, new ones are not taken, the exit code is 0."""

from __future__ import annotations

import json
import os
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import pytest
from raw_http import Connection

from serverproc import serving

BODY = json.dumps({"flow": "9 gal/min", "bore": "20 mm"}).encode()
HEAD = (
    "POST /v1/pipe/velocity HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    f"Content-Length: {len(BODY)}\r\n\r\n"
).encode()


@pytest.mark.parametrize("workers", [1, 2])
def test_a_request_half_sent_is_answered_after_sigterm(workers: int) -> None:
    with serving(workers=workers) as server, ExitStack() as stack:
        wires = [stack.enter_context(Connection(server.port)) for _ in range(4)]
        idle = stack.enter_context(Connection(server.port))
        assert idle.post("/v1/pipe/velocity", BODY).status == 200
        for wire in wires:
            wire.send(HEAD + BODY[:10])
        time.sleep(0.3)  # let the workers take the connections up
        server.process.send_signal(signal.SIGTERM)
        assert _closes_its_door(server.port)
        for wire in wires:
            wire.send(BODY[10:])
            reply = wire.reply()
            assert reply.status == 200
            assert reply.json()["velocity"] > 0
            assert wire.closed()
        assert idle.closed()
        assert server.process.wait(20) == 0


def test_a_batch_being_calculated_is_answered_after_sigterm() -> None:
    rows = 200_000
    batch = json.dumps({"units": "us", "flow": [9.0] * rows, "bore": 0.8}).encode()
    with serving() as server, Connection(server.port, timeout=30) as wire, ThreadPoolExecutor(1) as pool:
        pending = pool.submit(wire.post, "/v1/pipe/velocity/batch", batch)
        time.sleep(0.1)
        in_flight = not pending.done()
        server.process.send_signal(signal.SIGTERM)
        reply = pending.result(30)
        assert in_flight, "the batch was over before the signal: make it longer"
        assert reply.status == 200
        assert reply.json()["rows"] == rows
        assert server.process.wait(20) == 0


def test_an_interrupt_from_the_keyboard_stops_it_as_well() -> None:
    with serving() as server:
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(20) == 0


def test_a_worker_that_dies_is_replaced() -> None:
    with serving(workers=2) as server:
        children = _children(server.process.pid)
        assert len(children) >= 2
        os.kill(children[-1], signal.SIGKILL)
        deadline = time.monotonic() + 20
        while time.monotonic() < deadline:
            time.sleep(0.3)
            with Connection(server.port) as wire:
                assert wire.post("/v1/pipe/velocity", BODY).status == 200
            if len(_children(server.process.pid)) == len(children) and children[-1] not in _children(
                server.process.pid
            ):
                return
        pytest.fail("the dead worker was not replaced")


def _closes_its_door(port: int) -> bool:
    """Knock until a new connection is not answered; a supervisor looks at its signals twice a second, or later."""
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline:
        try:
            with Connection(port, timeout=1) as late:
                late.post("/v1/pipe/velocity", BODY)
        except (ConnectionError, TimeoutError):
            return True
        time.sleep(0.1)
    return False


def _children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
