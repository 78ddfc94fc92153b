"""Routes of the page and the method sheets."""

from functools import cache
from html import escape
from importlib.resources import files
from typing import Any

from litestar import HttpMethod, Request, Response, route
from litestar.params import FromPath

from dosewright.engine.registry import calculations
from dosewright.http.page.contract import contract, contract_of
from dosewright.http.page.sheets import list_of_sheets, sheet
from dosewright.http.problems import ProblemError
from dosewright.quantities.spelling import nearest

__all__ = ["PAGE_ROUTES"]

_READ = [HttpMethod.GET, HttpMethod.HEAD]
_STATIC = files("dosewright.http.page") / "static"
_FILES = {
    "answer.js": "text/javascript",
    "elements.js": "text/javascript",
    "form.js": "text/javascript",
    "icon.svg": "image/svg+xml",
    "lines.js": "text/javascript",
    "page.css": "text/css",
    "page.js": "text/javascript",
}
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
# Told anew by each version: a browser asks whether what it holds is current.
_HEADERS = {"content-security-policy": _POLICY, "cache-control": "no-cache"}


def _sent(body: bytes, media_type: str) -> Response[bytes]:
    return Response(body, media_type=media_type, headers=_HEADERS)  # which adds the charset of a text


def _root(request: Request[Any, Any, Any]) -> str:
    return str(request.scope["root_path"])


@cache
def _file(name: str) -> bytes:
    return (_STATIC / name).read_bytes()


@route("/", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def page(request: Request[Any, Any, Any]) -> Response[bytes]:
    """Show the page on which each calculation can be tried."""
    text = _file("index.html").decode().replace("{root}", escape(_root(request)))
    return _sent(text.encode(), "text/html")


@route("/page/contract.json", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def page_contract() -> Response[bytes]:
    """Return what the page is made from."""
    return _sent(contract(), "application/json")


@route("/page/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def page_file(name: FromPath[str]) -> Response[bytes]:
    """Return a file of the page."""
    if name not in _FILES:
        raise ProblemError("not-found", "Not found: no file has this name.")
    return _sent(_file(name), _FILES[name])


@route("/methods", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def method_sheets(request: Request[Any, Any, Any]) -> Response[bytes]:
    """List the method sheets."""
    return _sent(list_of_sheets(_root(request)).encode(), "text/html")


def _path(topic: str, name: str) -> str:
    path = f"{topic}/{name}"
    if path not in calculations():
        guess = nearest(path, tuple(calculations()))
        hint = f" Did you mean {guess}?" if guess else ""
        raise ProblemError("not-found", f"No calculation is named {path[:200]}.{hint}")
    return path


@route("/page/contract/{topic:str}/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def page_form(topic: FromPath[str], name: FromPath[str]) -> Response[bytes]:
    """Return what the form of one calculation is made from."""
    return _sent(contract_of(_path(topic, name)), "application/json")


# In a thread, since the first sheet of a calculation recomputes its check values.
@route("/methods/{topic:str}/{name:str}", http_method=_READ, sync_to_thread=True, include_in_schema=False)
def method_sheet(topic: FromPath[str], name: FromPath[str], request: Request[Any, Any, Any]) -> Response[bytes]:
    """Show the method sheet of a calculation."""
    return _sent(sheet(_path(topic, name), _root(request)).encode(), "text/html")


PAGE_ROUTES = (page, page_contract, page_file, page_form, method_sheets, method_sheet)
