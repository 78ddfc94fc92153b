"""The handlers of the calculations, created from the register: bytes in, calculate, bytes out.

They are the framework's plain ASGI handlers, since its request and response objects take longer than a calculation.
"""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from litestar import asgi
from litestar.exceptions import MethodNotAllowedException, NotFoundException
from litestar.handlers import ASGIRouteHandler
from litestar.types import Receive, Scope, Send

from dosewright.engine.base import Answer
from dosewright.engine.batch.cases import answer_cases
from dosewright.engine.batch.columnwise import answer_batch
from dosewright.engine.registry import Calculation, calculations, entry_of
from dosewright.engine.run import answer
from dosewright.http import bodies, controls, query
from dosewright.http.formats import Format, View, choose
from dosewright.http.middleware import headers_of
from dosewright.http.problems import ProblemError
from dosewright.http.repeats import refuse_repeated, refuse_repeated_packed
from dosewright.present.html import PAGE_POLICY

__all__ = ["calculation_handlers"]

Reply = tuple[Format, bytes]

_THREAD_FROM_BYTES = 16 * 1024
_KEPT = (b"cache-control", b"public, max-age=3600")
_PAGE_POLICY = (b"content-security-policy", f"{PAGE_POLICY}; frame-ancestors 'none'".encode())


@dataclass(frozen=True, slots=True)
class _Single:
    """A calculation, and what is known about its query in advance."""

    calculation: Calculation[Any, Any]
    repeatable: frozenset[str]
    sections: frozenset[str]

    async def get(self, scope: Any) -> Reply:
        """Answer a GET request."""
        values, chosen = query.parse(scope["query_string"], self.repeatable)
        view = controls.view_of(chosen)
        form = choose(chosen, headers_of(scope).get(b"accept", b""))
        if view.decimal_comma:
            values = controls.reading_commas(values)
        if self.sections:
            values = query.nested(values, self.sections)
        return await _rendered(answer(self.calculation, values, query=True), form, view, scope)

    async def post(self, scope: Any, receive: Any) -> Reply:
        """Answer a POST request."""
        headers = headers_of(scope)
        media_type = bodies.media_type_of(headers)
        form, view = _requested(scope, headers)
        body = await bodies.read(receive, headers, bodies.BODY_LIMIT)
        body = bodies.decompressed(body, headers, bodies.BODY_LIMIT)
        given = answer(self.calculation, bodies.as_object(_raw(body, media_type)))
        return await _rendered(given, form, view, scope)


def calculation_handlers() -> list[ASGIRouteHandler]:
    """Return a handler for each calculation, and one for its batch."""
    handlers: list[ASGIRouteHandler] = []
    for path, entry in calculations().items():
        handlers.append(_single_handler(f"/v1/{path}", entry))
        if entry.batch:
            handlers.append(_batch_handler(f"/v1/{path}/batch", entry))
    return handlers


def _single_handler(path: str, entry: Calculation[Any, Any]) -> ASGIRouteHandler:
    single = _Single(entry, query.repeatable_names(entry), query.section_names(entry))

    @asgi(path, copy_scope=False)
    async def handle(scope: Scope, receive: Receive, send: Send) -> None:
        method = _method(scope)
        if method == "POST":
            await _send(send, await single.post(scope, receive))
        elif method == "GET":
            await _send(send, await single.get(scope), _KEPT)
        else:
            await _list_methods(method, send, "GET, HEAD, POST, OPTIONS")

    return handle


def _batch_handler(path: str, entry: Calculation[Any, Any]) -> ASGIRouteHandler:
    @asgi(path, copy_scope=False)
    async def handle(scope: Scope, receive: Receive, send: Send) -> None:
        method = _method(scope)
        if method == "POST":
            await _send(send, await _batch(entry, scope, receive))
        else:
            await _list_methods(method, send, "POST, OPTIONS")

    return handle


def _method(scope: Any) -> str:
    """Return the method of a request.

    Raises
    ------
    NotFoundException
        The address ends in a slash, which the router overlooks: an answer is at one address only.
    """
    if scope["raw_path"].endswith(b"/"):
        raise NotFoundException
    return scope["method"]


async def _batch(entry: Calculation[Any, Any], scope: Any, receive: Any) -> Reply:
    headers = headers_of(scope)
    media_type = bodies.media_type_of(headers)
    form, view = _requested(scope, headers)
    body = await bodies.read(receive, headers, bodies.BATCH_BODY_LIMIT)

    def compute() -> bytes:
        raw = _raw(bodies.decompressed(body, headers, bodies.BATCH_BODY_LIMIT), media_type)
        cases = bodies.as_cases(raw)
        given = answer_batch(entry, bodies.as_object(raw)) if cases is None else answer_cases(entry, cases)
        return form.render(given, view)

    # A long batch must not keep the other requests waiting.
    long = len(body) > _THREAD_FROM_BYTES or b"content-encoding" in headers
    return form, await asyncio.to_thread(compute) if long else compute()


def _requested(scope: Any, headers: Mapping[bytes, bytes]) -> tuple[Format, View]:
    """Return the form in which a POST is to be answered."""
    chosen: dict[str, str] = {}
    if scope["query_string"]:
        values, chosen = query.parse(scope["query_string"], frozenset())
        if values:
            allowed = ", ".join(sorted(controls.CONTROLS))
            detail = f"Send the inputs of a POST in the body. The query can only have: {allowed}."
            raise ProblemError("unreadable-query", detail)
    view = controls.view_of(chosen)
    return choose(chosen, headers.get(b"accept", b"")), view


def _raw(body: bytes, media_type: str) -> Any:
    raw = bodies.decoded(body, media_type)
    if media_type == "application/json":
        refuse_repeated(body, raw)
    else:
        refuse_repeated_packed(body, raw)
    return raw


async def _rendered(given: Any, form: Format, view: View, scope: Any) -> Reply:
    root = scope.get("root_path")
    if root and given.question:
        given.question = root + given.question
    if form.name == "json":
        return form, form.render(given, view)
    # A picture, or a page with pictures, must not keep the other requests waiting.
    pictured = form.name == "html" and isinstance(given, Answer) and entry_of(type(given)).views.web_page
    slow = form.slow or pictured
    return form, await asyncio.to_thread(form.render, given, view) if slow else form.render(given, view)


async def _send(send: Send, reply: Reply, *further: tuple[bytes, bytes]) -> None:
    form, body = reply
    head = [form.header, *further]
    if form.name == "html":
        head.append(_PAGE_POLICY)
    await send({"type": "http.response.start", "status": 200, "headers": head})
    await send({"type": "http.response.body", "body": body, "more_body": False})


async def _list_methods(method: str, send: Send, allowed: str) -> None:
    """Answer OPTIONS, and reject every other method.

    Raises
    ------
    MethodNotAllowedException
        The method is not OPTIONS.
    """
    if method != "OPTIONS":
        raise MethodNotAllowedException(headers={"allow": allowed})
    await send({"type": "http.response.start", "status": 204, "headers": [(b"allow", allowed.encode())]})
    await send({"type": "http.response.body", "body": b"", "more_body": False})
