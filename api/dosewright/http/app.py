"""The application: calculations, health, documents and problem pages."""

from collections.abc import Collection
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from litestar import HttpMethod, Litestar, Request, Response, route
from litestar.config.cors import CORSConfig
from litestar.params import FromPath
from litestar.response import Template
from swagger_ui_bundle import swagger_ui_path  # pyright: ignore[reportMissingTypeStubs, reportUnknownVariableType]

import dosewright.topics  # noqa: F401 # pyright: ignore[reportUnusedImport] - registers the calculations
from dosewright import __version__
from dosewright.engine.registry import calculations
from dosewright.http import downloads
from dosewright.http.calculations import calculation_handlers
from dosewright.http.middleware import CommonToReplies
from dosewright.http.openapi import document as openapi
from dosewright.http.page.routes import PAGE_ROUTES
from dosewright.http.page.templates import TEMPLATES, shown
from dosewright.http.problems import KINDS_OF_PROBLEM, ProblemError
from dosewright.http.refusals import problem_response

__all__ = ["create_app"]

_READ = [HttpMethod.GET, HttpMethod.HEAD]

_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
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


def _plain(body: bytes, media_type: str) -> Response[bytes]:
    return Response(body, media_type=media_type, headers={"cache-control": "public, max-age=3600"})


@route("/health/live", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def live() -> _State:
    """Tell that the process answers."""
    return _State("live")


@route("/health/ready", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def ready() -> _State:
    """Report that calculations can run: the register is loaded before the application exists."""
    return _State("ready")


@route("/docs", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def docs_page(request: Request[Any, Any, Any]) -> Template:
    """Show every calculation on a page to try; all its files come from here."""
    # Absolute addresses, since those of its files are below its own.
    return shown(request, "docs.html", {"content-security-policy": _PAGE_POLICY})


@route("/docs/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def docs_file(name: FromPath[str]) -> Response[bytes]:
    """Return a file of the documents page."""
    if name == "start.js":
        return _plain(_START.encode(), "text/javascript")
    media_type = _ASSETS.get(name)
    if media_type is None:
        raise ProblemError("not-found", "Not found: no file has this name.")
    return _plain((Path(str(swagger_ui_path)) / name).read_bytes(), media_type)


@route("/problems/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def problem_page(name: FromPath[str]) -> dict[str, Any]:
    """Say what a kind of problem means."""
    if name not in KINDS_OF_PROBLEM:
        raise ProblemError("not-found", f"Known kinds of problem: {', '.join(KINDS_OF_PROBLEM)}.")
    status, title = KINDS_OF_PROBLEM[name]
    return {"type": f"/problems/{name}", "title": title, "status": status}


@cache
def _document(root_path: str) -> bytes:
    return msgspec.json.encode(openapi.document(root_path or "/"))


@cache
def _list() -> bytes:
    entries = calculations().items()
    listed = [{"path": f"/v1/{path}", "summary": it.summary, "example": dict(it.example)} for path, it in entries]
    return msgspec.json.encode(listed)


@route("/v1", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def list_of_calculations() -> Response[bytes]:
    """List the calculations, each with an example."""
    return _plain(_list(), "application/json")


@route("/openapi.json", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def document_file(request: Request[Any, Any, Any]) -> Response[bytes]:
    """Return the OpenAPI document, indented on request."""
    written = _document(request.scope["root_path"])
    pretty = request.query_params.get("pretty", "false") != "false"
    return _plain(msgspec.json.format(written, indent=2) if pretty else written, "application/json")


_HANDLERS = (
    *PAGE_ROUTES,
    live,
    ready,
    docs_page,
    docs_file,
    problem_page,
    list_of_calculations,
    document_file,
    *downloads.ROUTES,
)


def create_app(origins: Collection[str] = ()) -> Litestar:
    """Build the application. It keeps no state: any number of copies can run.

    `origins` names the web origins whose pages can call from a browser.
    """
    sharing = CORSConfig(
        allow_origins=list(origins),
        allow_methods=["GET", "HEAD", "POST", "OPTIONS"],
        allow_headers=["content-type", "content-encoding", "if-none-match", "x-request-id"],
        expose_headers=["etag", "x-request-id", "dosewright-version", "retry-after"],
        max_age=86400,
    )
    app = Litestar(
        [*_HANDLERS, *calculation_handlers()],
        openapi_config=None,
        cors_config=sharing if origins else None,
        exception_handlers={Exception: problem_response},
        template_config=TEMPLATES,
        logging_config=None,
    )
    # What is registered as the framework's middleware does not meet a path that nothing is at.
    app.asgi_handler = CommonToReplies(app.asgi_handler, shared=bool(origins))
    return app
