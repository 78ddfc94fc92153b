"""The SDK's connections to a real server: reused, shared between threads, and mended when the server was restarted."""

from __future__ import annotations

import asyncio
import socket
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dosewright_sdk import AsyncClient, Client, InProcess, ServiceUnreachableError
from serverproc import serving

if TYPE_CHECKING:
    from serverproc import ServerProcess


def connections_to(port: int) -> int:
    """Count established connections whose far end is this port."""
    rows = [line.split() for line in Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]]
    return sum(row[2] == f"0100007F:{port:04X}" and row[3] == "01" for row in rows)


def test_one_connection_serves_many_calls(server: ServerProcess) -> None:
    before = connections_to(server.port)
    with Client(server.base_url) as client:
        for flow in range(1, 30):
            client.pipe.velocity(flow=f"{flow} gal/min", bore="20 mm")
        assert connections_to(server.port) == before + 1


def test_threads_share_a_client_and_get_their_own_answers(server: ServerProcess) -> None:
    here = InProcess()
    with Client(server.base_url) as client, ThreadPoolExecutor(8) as pool:
        gate = threading.Barrier(8)

        def ask(number: int) -> bool:
            if number < 8:
                gate.wait()
            question = {"flow": f"{1 + number / 10} gal/min", "bore": "20 mm"}
            return client.pipe.velocity(**question) == here.pipe.velocity(**question)

        assert all(pool.map(ask, range(200)))


def test_tasks_share_an_async_client_and_get_their_own_answers(server: ServerProcess) -> None:
    here = InProcess()

    async def ask_all() -> bool:
        async with AsyncClient(server.base_url) as client:
            questions = [{"flow": f"{1 + number / 10} gal/min", "bore": "20 mm"} for number in range(200)]
            answers = await asyncio.gather(*(client.pipe.velocity(**question) for question in questions))
        return all(given == here.pipe.velocity(**asked) for asked, given in zip(questions, answers, strict=True))

    assert asyncio.run(ask_all())


def test_a_client_outlives_a_restart_of_the_server() -> None:
    with serving() as first:
        port = first.port
        with Client(first.base_url) as client:
            answer = client.pipe.velocity(flow="9 gal/min", bore="20 mm")
            first.stop()
            with serving(port=port):
                assert client.pipe.velocity(flow="9 gal/min", bore="20 mm") == answer


def test_no_server_is_told_as_such_and_soon() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # bound and not listening: connections are refused
        address = f"http://127.0.0.1:{taken.getsockname()[1]}"
        with (
            Client(address, retries=1) as client,
            pytest.raises(ServiceUnreachableError, match="Cannot reach the service"),
        ):
            client.pipe.velocity(flow="9 gal/min", bore="20 mm")
