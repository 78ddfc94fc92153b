"""What every reply has in common: its headers, compression, entity tag, HEAD and a line in the log."""

import asyncio
import hashlib
import itertools
import logging
import secrets
import time
from collections.abc import Mapping
from typing import Any

import msgspec
from litestar.types import ASGIApp, HTTPScope, Message, Receive, Scope, Send

from dosewright import __version__
from dosewright.http.bodies import compress, encoding_for
from dosewright.http.problems import ProblemError

__all__ = ["CommonToReplies", "headers_of", "request_id_of"]

Headers = list[tuple[bytes, bytes]]

_LONGEST_REQUEST_ID = 64
_PACKED_IN_THREAD_FROM = 64 * 1024
_OF_A_BODY = frozenset({b"content-type", b"content-length", b"content-encoding", b"content-security-policy"})
# Written here for every path, because the framework's CORS handling replaces the handler's value.
_REWRITTEN = frozenset({b"content-length", b"vary"})
_COMMON: Headers = [
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"dosewright-version", __version__.encode()),
]

_log = logging.getLogger("dosewright.requests")
_id_prefix = secrets.token_hex(6)
_id_count = itertools.count(1)


class CommonToReplies:
    """Middleware around the whole application, so that it meets every path, also one that nothing is at.

    Parameters
    ----------
    app : ASGI application
        What answers.
    shared : bool
        Whether replies differ by the origin of the page that asks.
    """

    def __init__(self, app: ASGIApp, *, shared: bool = False) -> None:
        self._app = app
        self._common: Headers = [*_COMMON, (b"vary", b"accept, accept-encoding" + (b", origin" if shared else b""))]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began = time.perf_counter()
        requested: dict[bytes, bytes] = dict(scope["headers"])
        request_id = _given_id(requested.get(b"x-request-id")) or f"{_id_prefix}-{next(_id_count):x}"
        scope["state"]["request_id"] = request_id
        scope["state"]["headers"] = requested
        start: Any = None
        parts: list[bytes] = []

        async def reply(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start":
                start = message
                return
            if start is not None and message["type"] == "http.response.body":
                parts.append(message["body"])
                if message.get("more_body"):  # length and tag need the whole
                    return
                head: Headers = [*start["headers"]]
                body = b"".join(parts)
                if start["status"] == 400 and scope["method"] == "OPTIONS":
                    head, body = _refused_preflight(body, request_id)
                status, head, body = await _finished(start["status"], head, body, requested, scope["method"])
                head += self._common
                head.append((b"x-request-id", request_id.encode()))
                await send({"type": "http.response.start", "status": status, "headers": head})
                message = {"type": "http.response.body", "body": body, "more_body": False}
                if _log.isEnabledFor(logging.INFO):
                    _reply(scope, request_id, status, began)
            await send(message)

        # A HEAD is a GET whose body is not sent, on every path.
        inner: Any = {**scope, "method": "GET"} if scope["method"] == "HEAD" else scope
        await self._app(inner, receive, reply)


async def _finished(
    status: int, head: Headers, body: bytes, requested: Mapping[bytes, bytes], method: str
) -> tuple[int, Headers, bytes]:
    """Return a whole reply as it is sent: compressed, with its length and its tag, or as 304 Not Modified."""
    head = [pair for pair in head if pair[0] not in _REWRITTEN]
    if status in {204, 304}:
        return status, [pair for pair in head if pair[0] not in _OF_A_BODY], b""
    accepted = requested.get(b"accept-encoding")
    encoding = encoding_for(len(body), accepted) if accepted is not None else None
    if status == 200 and method in {"GET", "HEAD"} and (b"cache-control", b"no-store") not in head:
        tag = _tag(body, encoding)
        head.append((b"etag", tag))
        if _matches(requested.get(b"if-none-match"), tag):
            return 304, [pair for pair in head if pair[0] not in _OF_A_BODY], b""
    if encoding is not None:
        long = len(body) > _PACKED_IN_THREAD_FROM
        body = await asyncio.to_thread(compress, body, encoding) if long else compress(body, encoding)
        head.append((b"content-encoding", encoding))
    head.append((b"content-length", b"%d" % len(body)))
    return status, head, b"" if method == "HEAD" else body


def _refused_preflight(label: bytes, request_id: str) -> tuple[Headers, bytes]:
    """Return the framework's plain-text CORS errors as problem details."""
    what = label.decode("latin-1").removeprefix("Disallowed CORS ").lower()
    detail = f"Not allowed for that page: {what}. Origins are allowed with dosewright serve --cors-origin."
    problem = ProblemError("preflight-refused", detail).problem
    problem.request_id = request_id
    head = [(b"content-type", b"application/problem+json"), (b"cache-control", b"no-store")]
    return head, msgspec.json.encode(problem)


def headers_of(scope: Mapping[str, Any]) -> dict[bytes, bytes]:
    """Return the headers of the request by name, as the middleware put them together."""
    return scope["state"]["headers"]


def request_id_of(scope: Mapping[str, Any]) -> str:
    """Return the id of the request, which the middleware gave it."""
    return str(scope["state"]["request_id"])


def _given_id(given: bytes | None) -> str | None:
    if given and len(given) <= _LONGEST_REQUEST_ID and given.replace(b"-", b"").replace(b"_", b"").isalnum():
        return given.decode("ascii")
    return None


def _tag(body: bytes, encoding: bytes | None) -> bytes:
    # Compressed and plain bodies are different bytes, so a strong tag distinguishes them.
    tag = hashlib.blake2b(body, digest_size=12).hexdigest().encode()
    return b'"%s-%s"' % (tag, encoding) if encoding else b'"%s"' % tag


def _matches(given: bytes | None, tag: bytes) -> bool:
    # Compared weakly, because a proxy that compresses a body marks its tag as weak.
    return given is not None and (
        given.strip() == b"*" or tag in {part.strip().removeprefix(b"W/") for part in given.split(b",")}
    )


def _reply(scope: HTTPScope, request_id: str, status: int, began: float) -> None:
    _log.info(
        "request",
        extra={
            "request_id": request_id,
            "method": scope["method"],
            "path": scope["raw_path"].decode("latin-1"),
            "status": status,
            "milliseconds": round((time.perf_counter() - began) * 1000, 3),
        },
    )
