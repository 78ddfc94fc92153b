"""One road for every calculation request: bytes in, calculate, bytes out.

A plain ASGI application, since request and response objects of a framework would cost more than the calculation.
"""

import asyncio
import hashlib
import itertools
import logging
import secrets
import time
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any

import msgspec

from dosewright import __version__
from dosewright.calculations.batch import answer_batch
from dosewright.calculations.registry import Calculation, calculations
from dosewright.calculations.running import answer
from dosewright.contracts.field_readers import ItemsField
from dosewright.contracts.reading import reader_for
from dosewright.faults import RequestRefused, nearest
from dosewright.service import query
from dosewright.service.formats import choose
from dosewright.service.problems import ProblemError, encode_problem

__all__ = ["BATCH_BODY_LIMIT", "BODY_LIMIT", "Pipeline"]

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Headers = list[tuple[bytes, bytes]]

BODY_LIMIT = 256 * 1024
BATCH_BODY_LIMIT = 64 * 1024 * 1024
_PREFIX = "/v1/"
_LONGEST_REQUEST_ID = 64
_THREAD_FROM_BYTES = 16 * 1024

_log = logging.getLogger("dosewright.requests")
_decode = msgspec.json.Decoder().decode
_id_prefix = secrets.token_hex(6)
_id_count = itertools.count(1)

_FIXED: Headers = [(b"x-content-type-options", b"nosniff"), (b"dosewright-version", __version__.encode())]
_CACHED: Headers = [(b"cache-control", b"public, max-age=3600"), (b"vary", b"accept")]


class _Endpoint:
    """A calculation at its address, single or batch."""

    __slots__ = ("allow", "batch", "calculation", "limit", "repeatable")

    def __init__(self, calculation: Calculation[Any, Any], *, batch: bool) -> None:
        self.calculation = calculation
        self.batch = batch
        self.limit = BATCH_BODY_LIMIT if batch else BODY_LIMIT
        self.allow = "POST, OPTIONS" if batch else "GET, HEAD, POST, OPTIONS"
        fields = reader_for(calculation.request).fields
        self.repeatable = frozenset(f.name for f in fields if isinstance(f, ItemsField) and f.many)


class Pipeline:
    """The ASGI application under ``/v1``."""

    def __init__(self) -> None:
        self._endpoints: dict[str, _Endpoint] = {}
        for path, entry in calculations().items():
            self._endpoints[_PREFIX + path] = _Endpoint(entry, batch=False)
            self._endpoints[f"{_PREFIX}{path}/batch"] = _Endpoint(entry, batch=True)
        self._listed = msgspec.json.encode(
            [
                {"path": _PREFIX + path, "summary": entry.summary, "example": dict(entry.example)}
                for path, entry in calculations().items()
            ]
        )

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer one request."""
        began = time.perf_counter()
        headers: dict[bytes, bytes] = dict(scope["headers"])
        request_id = _request_id(headers)
        try:
            status, extra, body = await self._respond(scope, receive, headers)
        except ProblemError as error:
            status, extra, body = _refusal(error, request_id)
        except RequestRefused as error:
            detail = "One fault was found." if len(error.faults) == 1 else f"{len(error.faults)} faults were found."
            status, extra, body = _refusal(ProblemError("invalid-request", detail, error.faults), request_id)
        except Exception:  # noqa: BLE001 - the last resort: told in the logs, and to the caller without detail
            _log.exception("calculation failed", extra={"request_id": request_id, "path": scope["path"]})
            problem = ProblemError("internal-error", "The request id finds the fault in the logs.")
            status, extra, body = _refusal(problem, request_id)
        length = b"%d" % len(body)
        head = [*_FIXED, *extra, (b"x-request-id", request_id.encode()), (b"content-length", length)]
        if status in {204, 304}:
            head.pop()
        await send({"type": "http.response.start", "status": status, "headers": head})
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})
        if _log.isEnabledFor(logging.INFO):
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

    async def _respond(
        self, scope: Message, receive: Receive, headers: dict[bytes, bytes]
    ) -> tuple[int, Iterable[tuple[bytes, bytes]], bytes]:
        root, path = _paths(scope)
        endpoint = self._endpoints.get(path)
        if endpoint is None and path.rstrip("/") == "/v1" and scope["method"] in {"GET", "HEAD"}:
            return 200, [(b"content-type", b"application/json"), *_CACHED], self._listed
        if endpoint is None:
            guess = nearest(path, tuple(self._endpoints))
            hint = f" Did you mean {guess}?" if guess else ""
            raise ProblemError("not-found", f"No calculation is at {path[:200]}.{hint}")
        method = scope["method"]
        if method == "POST":
            return await self._post(endpoint, scope, receive, headers, root)
        if method in {"GET", "HEAD"} and not endpoint.batch:
            return self._get(endpoint, scope, headers, root)
        if method == "OPTIONS":
            return 204, [(b"allow", endpoint.allow.encode())], b""
        raise ProblemError(
            "method-not-allowed", f"Allowed here: {endpoint.allow}.", headers=[("allow", endpoint.allow)]
        )

    @staticmethod
    def _get(endpoint: _Endpoint, scope: Message, headers: dict[bytes, bytes], root: str) -> tuple[int, Headers, bytes]:
        values, controls = query.parse(scope["query_string"], endpoint.repeatable)
        form = choose(controls, headers.get(b"accept", b"").decode("latin-1"))
        given = answer(endpoint.calculation, values, query=True)
        if root and given.question:
            given.question = root + given.question
        body = form.render(given, controls.get("pick"))
        tag = b'"%s"' % hashlib.blake2b(body, digest_size=12).hexdigest().encode()
        cached: Headers = [*_CACHED, (b"etag", tag)]
        if _matches(headers.get(b"if-none-match"), tag):
            return 304, cached, b""
        return 200, [(b"content-type", form.media_type.encode()), *cached], body

    @staticmethod
    async def _post(
        endpoint: _Endpoint, scope: Message, receive: Receive, headers: dict[bytes, bytes], root: str
    ) -> tuple[int, Headers, bytes]:
        media = headers.get(b"content-type", b"application/json").partition(b";")[0].strip().lower()
        if media != b"application/json":
            detail = "Send the body as JSON, with the header content-type: application/json."
            raise ProblemError("unsupported-media-type", detail, headers=[("accept", "application/json")])
        controls: dict[str, str] = {}
        if scope["query_string"]:
            values, controls = query.parse(scope["query_string"], frozenset())
            if values:
                detail = f"A POST takes its inputs in the body; in the query only: {', '.join(sorted(query.CONTROLS))}."
                raise ProblemError("unreadable-query", detail)
        form = choose(controls, headers.get(b"accept", b"").decode("latin-1"))
        body = await _body(receive, headers, endpoint.limit)
        pick = controls.get("pick")
        if endpoint.batch:

            def compute() -> tuple[int, Headers, bytes]:
                given = answer_batch(endpoint.calculation, _decoded(body))
                return 200, _typed(form.media_type), form.render(given, pick)

            # A long batch must not keep the other requests waiting.
            return await asyncio.to_thread(compute) if len(body) > _THREAD_FROM_BYTES else compute()
        given = answer(endpoint.calculation, _decoded(body))
        if root and given.question:
            given.question = root + given.question
        return 200, _typed(form.media_type), form.render(given, pick)


def _typed(media_type: str) -> Headers:
    return [(b"content-type", media_type.encode())]


def _paths(scope: Message) -> tuple[str, str]:
    """Return the root path and the path below it.

    The raw path is taken, since a mount rewrites the other; servers differ in whether it holds the root path.
    """
    root: str = scope.get("root_path") or ""
    path: str = scope["raw_path"].decode("latin-1")
    if root and path.startswith(root):
        path = path[len(root) :]
    return root, path


def _request_id(headers: dict[bytes, bytes]) -> str:
    given = headers.get(b"x-request-id", b"")
    if given and len(given) <= _LONGEST_REQUEST_ID and given.replace(b"-", b"").replace(b"_", b"").isalnum():
        return given.decode("ascii")
    return f"{_id_prefix}-{next(_id_count):x}"


def _refusal(error: ProblemError, request_id: str) -> tuple[int, Headers, bytes]:
    extra: Headers = [(b"content-type", b"application/problem+json"), (b"cache-control", b"no-store")]
    extra += [(name.encode(), value.encode()) for name, value in error.headers]
    return error.status, extra, encode_problem(error, request_id)


def _matches(given: bytes | None, tag: bytes) -> bool:
    return given is not None and (given.strip() == b"*" or tag in {part.strip() for part in given.split(b",")})


async def _body(receive: Receive, headers: dict[bytes, bytes], limit: int) -> bytes:
    length = headers.get(b"content-length")
    if length is not None and length.isdigit() and int(length) > limit:
        raise _too_large(limit)
    message = await receive()
    body: bytes = message.get("body", b"")
    if not message.get("more_body"):
        if len(body) > limit:
            raise _too_large(limit)
        return body
    parts, total = [body], len(body)
    while message.get("more_body"):
        if total > limit:
            raise _too_large(limit)
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ProblemError("unreadable-body", "The body ended before its end.")
        parts.append(message.get("body", b""))
        total += len(parts[-1])
    if total > limit:
        raise _too_large(limit)
    return b"".join(parts)


def _too_large(limit: int) -> ProblemError:
    # The connection is closed, so that the rest of the body is never read.
    return ProblemError("body-too-large", f"At most {limit} bytes are read here.", headers=[("connection", "close")])


def _decoded(body: bytes) -> dict[str, Any]:
    try:
        raw = _decode(body)
    except (msgspec.DecodeError, RecursionError, UnicodeError) as error:
        reason = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise ProblemError("unreadable-body", f"The body is not valid JSON: {reason}.") from None
    if not isinstance(raw, dict):
        raise ProblemError("unreadable-body", "The body must be a JSON object with the inputs by name.")
    return raw  # pyright: ignore[reportUnknownVariableType] - keys of a JSON object are texts
