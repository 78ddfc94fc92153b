"""One client keeps its connections, for threads and for tasks."""

from __future__ import annotations

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, Any

import pytest

from asgi import send
from dosewright_sdk import AsyncClient, Client, InProcess

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def counting_server() -> Iterator[tuple[str, list[Any]]]:
    """A real HTTP server that answers by the service and keeps count of its connections."""
    connections: list[Any] = []
    lock = threading.Lock()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"
        disable_nagle_algorithm = True

        def setup(self) -> None:
            super().setup()
            connections.append(self.client_address)

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["content-length"]))
            with lock:  # the caller in asgi.py has one event loop
                reply = send("POST", self.path, [body], {"content-type": "application/json"})
            self.send_response_only(reply.status)
            for name, value in reply.headers.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(reply.body)

        def log_message(self, *_: Any) -> None:
            return

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}", connections
    server.shutdown()
    thread.join()
    server.server_close()


def test_one_client_keeps_one_connection(counting_server: tuple[str, list[Any]]) -> None:
    address, connections = counting_server
    with Client(address) as door:
        answers = {door.pipe.velocity(flow=flow, bore=20, units="metric").velocity for flow in range(1, 21)}
    assert len(answers) == 20
    assert len(connections) == 1


def test_one_client_serves_many_threads(counting_server: tuple[str, list[Any]]) -> None:
    address, connections = counting_server
    flows = [float(flow) for flow in range(1, 101)]
    with Client(address) as door, ThreadPoolExecutor(8) as pool:
        asked = list(pool.map(lambda flow: door.pipe.velocity(flow=flow, bore=20, units="metric").velocity, flows))
    assert asked == [InProcess().pipe.velocity(flow=flow, bore=20, units="metric").velocity for flow in flows]
    assert len(connections) <= 8


def test_one_async_client_serves_many_tasks(counting_server: tuple[str, list[Any]]) -> None:
    address, connections = counting_server

    async def ask() -> list[float]:
        async with AsyncClient(address) as door:
            calls = [door.pipe.velocity(flow=float(flow), bore=20, units="metric") for flow in range(1, 41)]
            return [answer.velocity for answer in await asyncio.gather(*calls)]

    expected = [InProcess().pipe.velocity(flow=float(flow), bore=20, units="metric").velocity for flow in range(1, 41)]
    assert asyncio.run(ask()) == expected
    assert len(connections) <= 40
