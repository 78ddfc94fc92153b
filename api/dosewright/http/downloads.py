"""Pages and files for spreadsheets: ready workbooks and a guide for each family."""

import html
import re
from importlib.resources import files
from typing import Any

from litestar import HttpMethod, MediaType, Request, Response, route
from litestar.params import FromPath

from dosewright.engine.registry import calculations
from dosewright.http.problems import ProblemError
from dosewright.present.workbook.layout import DEFAULT_ADDRESS, book_of
from dosewright.present.workbook.opendocument import as_ods

__all__ = ["GUIDES", "ROUTES", "workbook"]

_READ = [HttpMethod.GET, HttpMethod.HEAD]
GUIDES = {
    "libreoffice": "LibreOffice Calc",
    "excel": "Excel",
    "google-sheets": "Google Sheets",
    "power-query": "Power Query",
}
_MEDIA_TYPES = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
}
_POLICY = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
# They tell where the caller found the service, so that another caller must not be given them.
_OWN = {"cache-control": "private, no-cache"}
_HOST = re.compile(r"[A-Za-z0-9.-]{1,253}(:[0-9]{1,5})?|\[[0-9A-Fa-f:.]{2,45}\](:[0-9]{1,5})?")
_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>{title}</title>
<link rel="stylesheet" href="{root}/guides/style.css">
</head>
<body>
<main>
{body}
</main>
</body>
</html>
"""


def _address(request: Request[Any, Any, Any]) -> str:
    """Return where the caller found the service, as far as its Host header can be believed."""
    host = request.headers.get("host", "")
    if not _HOST.fullmatch(host):
        return DEFAULT_ADDRESS
    return f"{request.scope['scheme']}://{host}{request.scope['root_path']}"


def _page(request: Request[Any, Any, Any], title: str, body: str) -> Response[str]:
    root = html.escape(request.scope["root_path"])
    page = _PAGE.format(title=html.escape(title), root=root, body=body)
    return Response(page, media_type=MediaType.HTML, headers={"content-security-policy": _POLICY, **_OWN})


@route("/workbooks", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def workbook_list(request: Request[Any, Any, Any]) -> Response[str]:
    """List the workbooks."""
    root = html.escape(request.scope["root_path"])
    rows = "\n".join(
        f"<tr><td>{html.escape(entry.summary)}</td>"
        + "".join(
            f'<td><a href="{root}/workbooks/{entry.topic}-{entry.name}.{kind}">.{kind}</a></td>'
            for kind in ("ods", "xlsx")
        )
        + "</tr>"
        for entry in calculations().values()
    )
    guides = ", ".join(f'<a href="{root}/guides/{name}">{title}</a>' for name, title in GUIDES.items())
    body = (
        "<h1>Ready workbooks</h1>\n<p>Each asks this service for one calculation: fill the yellow cells. The numbers "
        f"in them are an invented example. Guides: {guides}.</p>\n<table>\n<tr><th>Calculation</th><th>LibreOffice</th>"
        f"<th>Excel</th></tr>\n{rows}\n</table>"
    )
    return _page(request, "Ready workbooks", body)


def workbook(file_name: str, address: str) -> bytes:
    """Return a workbook's file by its name, ``<topic>-<name>.xlsx`` or ``.ods``.

    Raises
    ------
    ProblemError
        There is no such workbook, or what writes it is not installed.
    """
    stem, _, kind = file_name.rpartition(".")
    names = {f"{entry.topic}-{entry.name}": path for path, entry in calculations().items()}
    if stem not in names or kind not in _MEDIA_TYPES:
        raise ProblemError("not-found", "No workbook has this name. See the list at /workbooks.")
    book = book_of(names[stem], address)
    if kind == "ods":
        return as_ods(book)
    try:
        from dosewright.present.workbook.excel import as_xlsx  # noqa: PLC0415 - the workbooks extra may not be there
    except ModuleNotFoundError:
        detail = "This service cannot write .xlsx: pip install 'dosewright[workbooks]'. The .ods is available."
        raise ProblemError("not-found", detail) from None
    return as_xlsx(book)


@route("/workbooks/{name:str}", http_method=_READ, sync_to_thread=True, include_in_schema=False)
def workbook_file(request: Request[Any, Any, Any], name: FromPath[str]) -> Response[bytes]:
    """Return a workbook that asks this service."""
    body = workbook(name, _address(request))
    headers = {"content-disposition": f'attachment; filename="{name}"', **_OWN}
    return Response(body, media_type=_MEDIA_TYPES[name.rpartition(".")[2]], headers=headers)


@route("/guides", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def guide_list(request: Request[Any, Any, Any]) -> Response[str]:
    """List the guides."""
    root = html.escape(request.scope["root_path"])
    items = "\n".join(f'<li><a href="{root}/guides/{name}">{title}</a></li>' for name, title in GUIDES.items())
    more = f'<p>Ready workbooks: <a href="{root}/workbooks">the list</a>.</p>'
    return _page(request, "Guides for spreadsheets", f"<h1>Guides for spreadsheets</h1>\n<ul>\n{items}\n</ul>\n{more}")


@route("/guides/{name:str}", http_method=_READ, sync_to_thread=False, include_in_schema=False)
def guide(request: Request[Any, Any, Any], name: FromPath[str]) -> Response[Any]:
    """Return a guide, its examples asking this service; or the guides' style."""
    folder = files("dosewright.http") / "guides"
    if name == "style.css":
        style = (folder / name).read_text(encoding="utf-8")
        return Response(style, media_type="text/css", headers={"cache-control": "public, max-age=3600"})
    if name not in GUIDES:
        raise ProblemError("not-found", f"The guides are: {', '.join(GUIDES)}.")
    text = (folder / f"{name}.html").read_text(encoding="utf-8")
    body = text.replace("{address}", html.escape(_address(request)))
    return _page(
        request, f"Dosewright in {GUIDES[name]}", body.replace("{root}", html.escape(request.scope["root_path"]))
    )


ROUTES = [workbook_list, workbook_file, guide_list, guide]
