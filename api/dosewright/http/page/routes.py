"""Routes of the page and the method sheets."""

from functools import cache
from importlib.resources import files
from typing import Any

from litestar import HttpMethod, Request, Response, route
from litestar.params import FromPath
from litestar.response import Template

from dosewright.engine.registry import calculations
from dosewright.http.page.contract import contract, contract_of
from dosewright.http.page.sheets import sheet
from dosewright.http.page.templates import shown
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
# Changes with each version: a browser checks whether its copy is current.
_HEADERS = {"content-security-policy": _POLICY, "cache-control": "no-cache"}


def _sent(body: bytes, media_type: str) -> Response[bytes]:
    return Response(body, media_type=media_type, headers=_HEADERS)  # which adds the charset of a text


@cache
def _file(name: str) -> bytes:
    return (_STATIC / name).read_bytes()


@route("/", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def page(request: Request[Any, Any, Any]) -> Template:
    """Show the page on which each calculation can be tried."""
    return shown(request, "home.html", _HEADERS)


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
def method_sheets(request: Request[Any, Any, Any]) -> Template:
    """List the method sheets."""
    return shown(request, "methods.html", _HEADERS, entries=calculations())


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
def method_sheet(topic: FromPath[str], name: FromPath[str], request: Request[Any, Any, Any]) -> Template:
    """Show the method sheet of a calculation."""
    return shown(request, "method.html", _HEADERS, **sheet(_path(topic, name)))


PAGE_ROUTES = (page, page_contract, page_file, page_form, method_sheets, method_sheet)
