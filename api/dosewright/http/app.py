"""The application: the calculations mounted beside health, documents and problem pages."""

import html
import logging
from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from litestar import HttpMethod, Litestar, MediaType, Request, Response, asgi, route
from litestar.exceptions import HTTPException
from litestar.params import FromPath
from litestar.types import ASGIApp, Receive, Scope, Send
from swagger_ui_bundle import swagger_ui_path  # pyright: ignore[reportMissingTypeStubs, reportUnknownVariableType]

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
from dosewright import __version__
from dosewright.http import downloads
from dosewright.http.openapi import document as openapi
from dosewright.http.page.routes import PAGE_ROUTES
from dosewright.http.pipeline import Pipeline
from dosewright.http.problems import KINDS_OF_PROBLEM, Problem, ProblemError, encode_problem

__all__ = ["create_app", "create_service"]

_READ = [HttpMethod.GET, HttpMethod.HEAD]
_log = logging.getLogger("dosewright.http")

_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Dosewright: every calculation, to try</title>
<link rel="icon" href="{root}/docs/favicon-32x32.png">
<link rel="stylesheet" href="{root}/docs/swagger-ui.css">
</head>
<body>
<div id="page"></div>
<script src="{root}/docs/swagger-ui-bundle.js"></script>
<script src="{root}/docs/start.js"></script>
</body>
</html>
"""
_START = """SwaggerUIBundle({
  url: new URL("../openapi.json", document.currentScript.src).href,
  dom_id: "#page", deepLinking: true, tryItOutEnabled: true, validatorUrl: null
});
"""
_ASSETS: dict[str, str] = {
    "swagger-ui.css": "text/css",
    "swagger-ui-bundle.js": "text/javascript",
    "favicon-32x32.png": "image/png",
}


class _State(msgspec.Struct):
    status: str
    version: str = __version__


def _plain(body: bytes, media_type: str, headers: dict[str, str] | None = None) -> Response[bytes]:
    return Response(body, media_type=media_type, headers={"cache-control": "public, max-age=3600", **(headers or {})})


@route("/health/live", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def live() -> _State:
    """Tell that the process answers."""
    return _State("live")


@route("/health/ready", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def ready() -> _State:
    """Tell that calculations can be asked: the register is loaded before the application exists."""
    return _State("ready")


@route("/docs", http_method=_READ, media_type=MediaType.HTML, sync_to_thread=False, include_in_schema=False)
def docs_page(request: Request[Any, Any, Any]) -> Response[str]:
    """Show every calculation on a page to try; all its files come from here."""
    # Absolute addresses, since those of its files stand below its own.
    page = _PAGE.format(root=html.escape(request.scope["root_path"]))
    return Response(page, media_type=MediaType.HTML, headers={"content-security-policy": _PAGE_POLICY})


@route("/docs/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def docs_file(name: FromPath[str]) -> Response[bytes]:
    """Return a file of the documents page."""
    if name == "start.js":
        return _plain(_START.encode(), "text/javascript")
    media_type = _ASSETS.get(name)
    if media_type is None:
        raise ProblemError("not-found", "The documents page has no such file.")
    return _plain((Path(str(swagger_ui_path)) / name).read_bytes(), media_type)


@route("/problems/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def problem_page(name: FromPath[str]) -> dict[str, Any]:
    """Say what a kind of problem means."""
    if name not in KINDS_OF_PROBLEM:
        raise ProblemError("not-found", f"The kinds of problem are: {', '.join(KINDS_OF_PROBLEM)}.")
    status, title = KINDS_OF_PROBLEM[name]
    return {"type": f"/problems/{name}", "title": title, "status": status}


def _told(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    """Answer a fault outside the calculations as problem details too."""
    if isinstance(error, ProblemError):
        return Response(encode_problem(error, ""), status_code=error.status, media_type="application/problem+json")
    status = error.status_code if isinstance(error, HTTPException) else 500
    if status >= 500:
        _log.error("request failed", exc_info=error, extra={"path": request.url.path})
    kind = next((name for name, (code, _) in KINDS_OF_PROBLEM.items() if code == status), None)
    detail = error.detail if isinstance(error, HTTPException) and status < 500 else "The fault is in the logs."
    if status == 404:
        shown = request.url.path[:200]
        detail = (
            f"Nothing is at {shown}. /v1 lists the calculations, / lets you try them, /openapi.json describes them."
        )
    title = KINDS_OF_PROBLEM[kind][1] if kind else detail
    problem = Problem(type=f"/problems/{kind}" if kind else "about:blank", title=title, status=status, detail=detail)
    headers = error.headers if isinstance(error, HTTPException) else None
    return Response(
        msgspec.json.encode(problem), status_code=status, media_type="application/problem+json", headers=headers
    )


@cache
def _document(root_path: str) -> bytes:
    return msgspec.json.encode(openapi.document(root_path or "/"))


def create_service(origins: Collection[str] = ()) -> ASGIApp:
    """Build what a server runs: the calculations' own road in front, everything else through the application.

    `origins` names the web origins whose pages may ask from a browser.

    The mount inside the application serves the same road; going there first costs every calculation the application's
    router and its handlers of exceptions, which is as much time again as the calculation.
    """
    pipeline = Pipeline(origins)
    app = create_app(pipeline)

    async def service(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and scope["path"].startswith(scope.get("root_path", "") + "/v1"):
            await pipeline(scope, receive, send)  # pyright: ignore[reportArgumentType] - a scope is a mapping
        else:
            await app(scope, receive, send)

    return service


def create_app(pipeline: Pipeline | None = None) -> Litestar:
    """Build the application. It keeps no state: any number of copies may run."""
    pipeline = pipeline or Pipeline()

    @asgi("/v1", is_mount=True, copy_scope=False)
    async def mounted(scope: Scope, receive: Receive, send: Send) -> None:
        await pipeline(scope, receive, send)  # pyright: ignore[reportArgumentType] - a scope is a mapping

    @route("/openapi.json", http_method=_READ, sync_to_thread=False, include_in_schema=False)
    def document_file(request: Request[Any, Any, Any]) -> Response[bytes]:
        """Return the OpenAPI document, indented for a reader who asks for that."""
        written = _document(request.scope["root_path"])
        pretty = "pretty" in request.query_params
        return _plain(msgspec.json.format(written, indent=2) if pretty else written, "application/json")

    return Litestar(
        [*PAGE_ROUTES, mounted, live, ready, docs_page, docs_file, problem_page, document_file, *downloads.ROUTES],
        openapi_config=None,
        exception_handlers={Exception: _told},
        logging_config=None,
    )
