"""One road for every calculation request: bytes in, calculate, bytes out.

A plain ASGI application, since request and response objects of a framework would cost more than the calculation.
"""

import asyncio
import hashlib
import itertools
import logging
import secrets
import time
from collections.abc import Awaitable, Callable, Collection, Mapping, MutableMapping
from typing import Any

import msgspec

from dosewright import __version__
from dosewright.engine.base import Answer
from dosewright.engine.batch.cases import answer_cases
from dosewright.engine.batch.columnwise import answer_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import Calculation, calculations, entry_of
from dosewright.engine.run import answer
from dosewright.http import bodies, controls, query
from dosewright.http.formats import Format, choose
from dosewright.http.problems import ProblemError, encode_problem, told_briefly
from dosewright.http.repeats import refuse_repeated
from dosewright.present.html import PAGE_POLICY
from dosewright.quantities.spelling import nearest

__all__ = ["Pipeline"]

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Headers = list[tuple[bytes, bytes]]
Reply = tuple[int, Headers, bytes]

_PREFIX = "/v1/"
_LIST_ALLOWS = "GET, HEAD, OPTIONS"
_LONGEST_REQUEST_ID = 64
_THREAD_FROM_BYTES = 16 * 1024

_log = logging.getLogger("dosewright.requests")
_id_prefix = secrets.token_hex(6)
_id_count = itertools.count(1)

_FIXED: Headers = [(b"x-content-type-options", b"nosniff"), (b"dosewright-version", __version__.encode())]
_CACHED: Headers = [(b"cache-control", b"public, max-age=3600"), (b"vary", b"accept, accept-encoding")]
_PAGE_POLICY = f"{PAGE_POLICY}; frame-ancestors 'none'".encode()
_PREFLIGHT: Headers = [
    (b"access-control-allow-methods", b"GET, HEAD, POST, OPTIONS"),
    (b"access-control-allow-headers", b"content-type, content-encoding, if-none-match, x-request-id"),
    (b"access-control-max-age", b"86400"),
]


class _Endpoint:
    """A calculation at its address, single or batch."""

    __slots__ = ("allow", "batch", "calculation", "limit", "repeatable", "sections")

    def __init__(self, calculation: Calculation[Any, Any], *, batch: bool) -> None:
        self.calculation = calculation
        self.batch = batch
        self.limit = bodies.BATCH_BODY_LIMIT if batch else bodies.BODY_LIMIT
        self.allow = "POST, OPTIONS" if batch else "GET, HEAD, POST, OPTIONS"
        self.repeatable = query.repeatable_names(calculation)
        self.sections = query.section_names(calculation)


class Pipeline:
    """The ASGI application under ``/v1``.

    Parameters
    ----------
    origins : collection of str
        Web origins whose pages may ask from a browser; ``*`` means any. None by default.
    """

    def __init__(self, origins: Collection[str] = ()) -> None:
        self._origins = frozenset(origin.encode("latin-1") for origin in origins)
        self._endpoints: dict[str, _Endpoint] = {}
        for path, entry in calculations().items():
            self._endpoints[_PREFIX + path] = _Endpoint(entry, batch=False)
            if entry.batch:
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
        request_id = _given_id(headers) or f"{_id_prefix}-{next(_id_count):x}"
        try:
            status, head, body = await self._respond(scope, receive, headers)
        except ProblemError as error:
            status, head, body = _refusal(error, request_id, scope)
        except RequestRefused as error:
            detail = "One fault was found." if len(error.faults) == 1 else f"{len(error.faults)} faults were found."
            status, head, body = _refusal(ProblemError("invalid-request", detail, error.faults), request_id, scope)
        except Exception:  # noqa: BLE001 - the last resort: told in the logs, and to the caller without detail
            _log.exception("calculation failed", extra={"request_id": request_id, "path": scope["path"]})
            problem = ProblemError("internal-error", "The request id finds the fault in the logs.")
            status, head, body = _refusal(problem, request_id, scope)
        head += _FIXED
        head.append((b"x-request-id", request_id.encode()))
        if self._origins:
            head += self._shared_with(headers)
        if status not in {204, 304}:
            head.append((b"content-length", b"%d" % len(body)))
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

    def _shared_with(self, headers: Mapping[bytes, bytes]) -> Headers:
        origin = headers.get(b"origin")
        if origin is None or not (origin in self._origins or b"*" in self._origins):
            return [(b"vary", b"origin")]
        exposed = b"etag, x-request-id, dosewright-version"
        shared: Headers = [(b"access-control-allow-origin", origin), (b"access-control-expose-headers", exposed)]
        preflight = _PREFLIGHT if b"access-control-request-method" in headers else []
        return [*shared, *preflight, (b"vary", b"origin")]

    def _respond(self, scope: Message, receive: Receive, headers: dict[bytes, bytes]) -> Awaitable[Reply]:
        root, path = _paths(scope)
        endpoint = self._endpoints.get(path)
        method = scope["method"]
        if endpoint is None:
            if path.rstrip("/") == "/v1":
                return _at_once(self._list(method))
            guess = nearest(path, tuple(self._endpoints))
            hint = f" Did you mean {guess}?" if guess else ""
            raise ProblemError("not-found", f"No calculation is at {path[:200]}.{hint}")
        if method == "POST":
            return _post(endpoint, scope, receive, headers, root)
        if method in {"GET", "HEAD"} and not endpoint.batch:
            return _get(endpoint, scope, headers, root)
        if method == "OPTIONS":
            return _at_once((204, [(b"allow", endpoint.allow.encode())], b""))
        raise ProblemError(
            "method-not-allowed", f"Allowed here: {endpoint.allow}.", headers=[("allow", endpoint.allow)]
        )

    def _list(self, method: str) -> Reply:
        if method == "OPTIONS":
            return 204, [(b"allow", _LIST_ALLOWS.encode())], b""
        if method not in {"GET", "HEAD"}:
            raise ProblemError(
                "method-not-allowed", f"Allowed here: {_LIST_ALLOWS}.", headers=[("allow", _LIST_ALLOWS)]
            )
        return 200, [(b"content-type", b"application/json"), *_CACHED], self._listed


async def _at_once(reply: Reply) -> Reply:
    return reply


async def _get(endpoint: _Endpoint, scope: Message, headers: dict[bytes, bytes], root: str) -> Reply:
    values, chosen = query.parse(scope["query_string"], endpoint.repeatable)
    view = controls.view_of(chosen)
    form = choose(chosen, headers.get(b"accept", b""))
    if view.decimal_comma:
        values = controls.reading_commas(values)
    if endpoint.sections:
        values = query.nested(values, endpoint.sections)
    given = answer(endpoint.calculation, values, query=True)
    if root and given.question:
        given.question = root + given.question
    plain = await asyncio.to_thread(form.render, given, view) if _slow(form, given) else form.render(given, view)
    tag = hashlib.blake2b(plain, digest_size=12).hexdigest().encode()
    status, head, body = _written(plain, form, headers)
    # Packed and plain bodies are different bytes, so a strong tag tells them apart.
    packing = dict(head).get(b"content-encoding")
    tag = b'"%s-%s"' % (tag, packing) if packing else b'"%s"' % tag
    head += [*_CACHED, (b"etag", tag)]
    if _matches(headers.get(b"if-none-match"), tag):
        return 304, [*_CACHED, (b"etag", tag)], b""
    return status, head, body


async def _post(endpoint: _Endpoint, scope: Message, receive: Receive, headers: dict[bytes, bytes], root: str) -> Reply:
    media_type = bodies.media_type_of(headers)
    chosen: dict[str, str] = {}
    if scope["query_string"]:
        values, chosen = query.parse(scope["query_string"], frozenset())
        if values:
            allowed = ", ".join(sorted(controls.CONTROLS))
            raise ProblemError(
                "unreadable-query", f"A POST takes its inputs in the body; in the query only: {allowed}."
            )
    view = controls.view_of(chosen)
    form = choose(chosen, headers.get(b"accept", b""))
    body = await bodies.read(receive, headers, endpoint.limit)
    if endpoint.batch:

        def compute() -> Reply:
            raw = _raw(bodies.unpacked(body, headers, endpoint.limit), media_type)
            cases = bodies.as_cases(raw)
            given = (
                answer_batch(endpoint.calculation, bodies.as_object(raw))
                if cases is None
                else answer_cases(endpoint.calculation, cases)
            )
            return _written(form.render(given, view), form, headers)

        # A long batch must not keep the other requests waiting.
        long = len(body) > _THREAD_FROM_BYTES or b"content-encoding" in headers
        return await asyncio.to_thread(compute) if long else compute()
    body = bodies.unpacked(body, headers, endpoint.limit)
    given = answer(endpoint.calculation, bodies.as_object(_raw(body, media_type)))
    if root and given.question:
        given.question = root + given.question
    plain = await asyncio.to_thread(form.render, given, view) if _slow(form, given) else form.render(given, view)
    return _written(plain, form, headers)


def _raw(body: bytes, media_type: str) -> Any:
    raw = bodies.decoded(body, media_type)
    if media_type == "application/json":
        refuse_repeated(body, raw)
    return raw


def _slow(form: Format, given: Any) -> bool:
    # A picture, or a page with pictures, must not keep the other requests waiting.
    return form.slow or (form.name == "html" and isinstance(given, Answer) and entry_of(type(given)).views.web_page)


def _written(plain: bytes, form: Format, headers: Mapping[bytes, bytes]) -> Reply:
    head: Headers = [form.header]
    if form.name == "html":
        head.append((b"content-security-policy", _PAGE_POLICY))
    accepted = headers.get(b"accept-encoding")
    if accepted is None:
        return 200, head, plain
    body, packing = bodies.packed(plain, accepted)
    if packing:
        head.append((b"content-encoding", packing))
    return 200, head, body


def _paths(scope: Message) -> tuple[str, str]:
    """Return the root path and the path below it.

    The raw path is taken, since a mount rewrites the other; servers differ in whether it holds the root path.
    """
    root: str = scope.get("root_path") or ""
    path: str = scope["raw_path"].decode("latin-1")
    if root and path.startswith(root):
        path = path[len(root) :]
    return root, path


def _given_id(headers: dict[bytes, bytes]) -> str | None:
    given = headers.get(b"x-request-id")
    if given and len(given) <= _LONGEST_REQUEST_ID and given.replace(b"-", b"").replace(b"_", b"").isalnum():
        return given.decode("ascii")
    return None


def _refusal(error: ProblemError, request_id: str, scope: Message) -> Reply:
    head: Headers = [(b"cache-control", b"no-store")]
    if scope["method"] in {"GET", "HEAD"} and controls.wants_text_errors(scope["query_string"]):
        return 200, [(b"content-type", b"text/plain; charset=utf-8"), *head], told_briefly(error)
    head += [(name.encode(), value.encode()) for name, value in error.headers]
    return error.status, [(b"content-type", b"application/problem+json"), *head], encode_problem(error, request_id)


def _matches(given: bytes | None, tag: bytes) -> bool:
    # Compared weakly, as a proxy that packs a body marks its tag as weak.
    return given is not None and (
        given.strip() == b"*" or tag in {part.strip().removeprefix(b"W/") for part in given.split(b",")}
    )
