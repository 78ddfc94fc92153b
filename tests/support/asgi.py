"""Requests to the service in this process: bytes in, bytes out, without a socket or an HTTP library."""

from __future__ import annotations

import asyncio
import atexit
import json
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from dosewright.http.app import create_app

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

__all__ = ["Reply", "get", "post", "send"]

_loop = asyncio.new_event_loop()
atexit.register(_loop.close)


@dataclass(slots=True)
class Reply:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        """Return the body as plain data."""
        return json.loads(self.body)


@cache
def _service() -> Any:
    return create_app()


def send(
    method: str,
    target: str,
    parts: Iterable[bytes] = (b"",),
    headers: Mapping[str, str] | None = None,
    root_path: str = "",
    service: Any = None,
) -> Reply:
    """Send one request; `parts` are the pieces in which the body arrives."""
    path, _, query = target.partition("?")
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": root_path + unquote(path),
        "raw_path": (root_path + path).encode("ascii"),
        "query_string": query.encode("ascii"),
        "root_path": root_path,
        "headers": [(name.lower().encode(), value.encode()) for name, value in (headers or {}).items()],
        "client": ("192.0.2.1", 50000),
        "server": ("192.0.2.2", 80),
        "state": {},
    }
    waiting = [{"type": "http.request", "body": part, "more_body": True} for part in parts]
    waiting[-1]["more_body"] = False
    waiting.append({"type": "http.disconnect"})
    waiting.reverse()
    sent: list[Any] = []

    async def receive() -> Any:
        return waiting.pop()

    async def keep(message: Any) -> None:
        sent.append(message)

    _loop.run_until_complete((service or _service())(scope, receive, keep))
    start, *rest = sent
    assert start["type"] == "http.response.start"
    assert rest
    assert all(message["type"] == "http.response.body" for message in rest)
    given = {bytes(name).decode(): bytes(value).decode() for name, value in start["headers"]}
    return Reply(start["status"], given, b"".join(message.get("body", b"") for message in rest))


def get(target: str, headers: Mapping[str, str] | None = None) -> Reply:
    """Send a GET."""
    return send("GET", target, headers=headers)


def post(target: str, payload: Any, headers: Mapping[str, str] | None = None) -> Reply:
    """Send a POST of plain data as JSON."""
    body = json.dumps(payload).encode()
    return send("POST", target, [body], {"content-type": "application/json", **(headers or {})})
