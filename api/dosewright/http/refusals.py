"""Every exception of a request as problem details: the framework's handler of exceptions."""

import logging
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException

from dosewright.engine.faults import RequestRefused
from dosewright.engine.registry import calculations
from dosewright.http.controls import wants_text_errors
from dosewright.http.middleware import request_id_of
from dosewright.http.problems import Problem, ProblemError, brief_text
from dosewright.quantities.spelling import nearest

__all__ = ["problem_response"]

_log = logging.getLogger("dosewright.requests")
_PREFIX = "/v1/"
_OF_THE_FRAMEWORK = {404: "not-found", 405: "method-not-allowed", 413: "body-too-large"}


def problem_response(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer a fault as problem details, or as a short text on request."""
    problem, headers = _problem(request, error)
    problem.request_id = request_id_of(request.scope)
    headers["cache-control"] = "no-store"
    if request.method == "GET" and wants_text_errors(request.scope["query_string"]):
        return Response(brief_text(problem), media_type="text/plain; charset=utf-8", headers=headers)
    body = msgspec.json.encode(problem)
    return Response(body, status_code=problem.status, media_type="application/problem+json", headers=headers)


def _problem(request: Request[Any, Any, Any], error: Exception) -> tuple[Problem, dict[str, str]]:
    headers: dict[str, str] = {}
    if isinstance(error, RequestRefused):
        detail = (
            "The request has 1 fault." if len(error.faults) == 1 else f"The request has {len(error.faults)} faults."
        )
        error = ProblemError("invalid-request", detail, error.faults)
    elif isinstance(error, HTTPException) and error.status_code < 500:
        headers = dict(error.headers or {})
        kind = _OF_THE_FRAMEWORK.get(error.status_code)
        if kind is None:
            return Problem(
                type="about:blank", title=error.detail, status=error.status_code, detail=error.detail
            ), headers
        error = ProblemError(kind, _detail(request, error))
    elif not isinstance(error, ProblemError):
        extra = {"request_id": request_id_of(request.scope), "path": request.url.path}
        _log.error("request failed", exc_info=error, extra=extra)
        error = ProblemError("internal-error", "Use the request id to find the cause in the logs.")
    return error.problem, {**headers, **dict(error.headers)}


def _detail(request: Request[Any, Any, Any], error: HTTPException) -> str:
    if error.status_code == 405:
        return f"Allowed: {(error.headers or {}).get('allow', '')}."
    if error.status_code != 404:
        return error.detail
    # As it was written: the router takes a slash off its end.
    path = request.scope["raw_path"].decode("latin-1").removeprefix(request.scope["root_path"])
    if path.startswith(_PREFIX):
        guess = nearest(path.removeprefix(_PREFIX), tuple(calculations()))
        hint = f" Did you mean {_PREFIX}{guess}?" if guess else ""
        return f"No calculation at {path[:200]}.{hint}"
    shown = request.url.path[:200]
    return f"Not found: {shown}. /v1 lists the calculations, / lets you try them, /openapi.json describes them."
