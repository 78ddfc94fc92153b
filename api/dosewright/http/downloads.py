"""Pages and files for spreadsheets: ready workbooks and a guide for each family."""

import re
from importlib.resources import files
from typing import Any

from litestar import HttpMethod, Request, Response, route
from litestar.params import FromPath
from litestar.response import Template

from dosewright.engine.registry import calculations
from dosewright.http.page.templates import shown
from dosewright.http.problems import ProblemError
from dosewright.present.workbook.layout import DEFAULT_ADDRESS, book_of

__all__ = ["GUIDES", "ROUTES", "workbook"]

_READ = [HttpMethod.GET, HttpMethod.HEAD]
GUIDES = {
    "libreoffice": "LibreOffice Calc",
    "excel": "Excel",
    "google-sheets": "Google Sheets",
    "power-query": "Power Query",
}
_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_POLICY = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
# They contain the address of the service as this caller sees it, so another caller must not get them.
_OWN = {"cache-control": "private, no-cache"}
_HOST = re.compile(r"[A-Za-z0-9.-]{1,253}(:[0-9]{1,5})?|\[[0-9A-Fa-f:.]{2,45}\](:[0-9]{1,5})?")


def _address(request: Request[Any, Any, Any]) -> str:
    """Return where the caller found the service, as far as its Host header can be believed."""
    host = request.headers.get("host", "")
    if not _HOST.fullmatch(host):
        return DEFAULT_ADDRESS
    return f"{request.scope['scheme']}://{host}{request.scope['root_path']}"


def _shown(request: Request[Any, Any, Any], template: str, **values: Any) -> Template:
    return shown(request, f"guides/{template}", {"content-security-policy": _POLICY, **_OWN}, **values)


@route("/workbooks", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def workbook_list(request: Request[Any, Any, Any]) -> Template:
    """List the workbooks."""
    entries = calculations().values()
    return _shown(request, "workbooks.html", entries=entries, guides=GUIDES)


def workbook(file_name: str, address: str) -> bytes:
    """Return a workbook's file by its name, ``<topic>-<name>.xlsx``.

    Raises
    ------
    ProblemError
        There is no such workbook.
    """
    names = {f"{entry.topic}-{entry.name}.xlsx": path for path, entry in calculations().items()}
    if file_name not in names:
        raise ProblemError("not-found", "No workbook has this name. See the list at /workbooks.")
    from dosewright.present.workbook.excel import as_xlsx  # noqa: PLC0415 - its library loads when first needed

    return as_xlsx(book_of(names[file_name], address))


@route("/workbooks/{name:str}", http_method=_READ, sync_to_thread=True, include_in_schema=False)
def workbook_file(request: Request[Any, Any, Any], name: FromPath[str]) -> Response[bytes]:
    """Return a workbook that asks this service."""
    body = workbook(name, _address(request))
    headers = {"content-disposition": f'attachment; filename="{name}"', **_OWN}
    return Response(body, media_type=_WORKBOOK, headers=headers)


@route("/guides", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def guide_list(request: Request[Any, Any, Any]) -> Template:
    """List the guides."""
    return _shown(request, "guides.html", guides=GUIDES)


@route("/guides/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def guide(request: Request[Any, Any, Any], name: FromPath[str]) -> Response[Any]:
    """Return a guide, its examples asking this service; or the guides' style."""
    if name == "style.css":
        style = (files("dosewright.http") / "templates" / "guides" / name).read_text(encoding="utf-8")
        return Response(style, media_type="text/css", headers={"cache-control": "public, max-age=3600"})
    if name not in GUIDES:
        raise ProblemError("not-found", f"The guides are: {', '.join(GUIDES)}.")
    return _shown(request, f"{name}.html", address=_address(request))


ROUTES = [workbook_list, workbook_file, guide_list, guide]
