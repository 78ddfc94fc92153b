"""Answers as bytes: one entry a format, chosen by ``?format=`` or the Accept header.

A further format is one function and one row of :data:`FORMATS`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn, cast

import msgspec
import numpy as np

from dosewright.engine.base import Answer, BatchAnswer
from dosewright.engine.faults import Fault
from dosewright.engine.registry import calculations, entry_of, find
from dosewright.http.problems import ProblemError
from dosewright.present.csv import as_csv
from dosewright.present.html import as_spreadsheet_table
from dosewright.present.library import MissingLibraryError
from dosewright.present.pdf import Paper
from dosewright.present.picture.rendering import Form, render
from dosewright.present.rows import leaves, own_leaves, plain_text, records
from dosewright.present.views import NoPictureError, chart_of, page_html, page_pdf
from dosewright.present.xml import as_xml
from dosewright.quantities.spelling import nearest

__all__ = ["FORMATS", "Format", "View", "choose", "offers"]


@dataclass(frozen=True, slots=True)
class View:
    """Options of a format: one value only, a decimal comma, the paper it is printed on."""

    pick: str | None = None
    decimal_comma: bool = False
    paper: Paper = "a4"


_PLAIN = View()


def _hook(value: Any) -> Any:
    # Columns of a batch are arrays; not a number means a row at fault and is written as null.
    if isinstance(value, np.ndarray):
        return cast("Any", value).tolist()
    raise NotImplementedError(f"no JSON form of {value!r}")


def _packed_hook(value: Any) -> Any:
    # MessagePack could hold a not-a-number, but a row at fault is to be absent in every format.
    if isinstance(value, np.ndarray):
        return [None if entry != entry else entry for entry in cast("Any", value).tolist()]
    raise NotImplementedError(f"no MessagePack form of {value!r}")


_JSON = msgspec.json.Encoder(enc_hook=_hook)
_PACKED = msgspec.msgpack.Encoder(enc_hook=_packed_hook)


def _json(answer: Any, view: View) -> bytes:
    del view
    return _JSON.encode(answer)


def _msgpack(answer: Any, view: View) -> bytes:
    del view
    return _PACKED.encode(answer)


def _csv(answer: Any, view: View) -> bytes:
    return as_csv(answer, decimal_comma=view.decimal_comma).encode()


def _html(answer: Any, view: View) -> bytes:
    if isinstance(answer, Answer) and entry_of(type(answer)).views.web_page:
        return _made(page_html, answer)
    return as_spreadsheet_table(answer, decimal_comma=view.decimal_comma)


def _xml(answer: Any, view: View) -> bytes:
    del view
    return as_xml(answer)


def _table(answer: Any, view: View) -> bytes:
    del view
    return _JSON.encode(list(records(answer)))


def _text(answer: Any, view: View) -> bytes:
    if isinstance(answer, BatchAnswer):
        raise ProblemError("not-acceptable", "A batch cannot be returned as plain text.")
    return plain_text(_picked(answer, view.pick), decimal_comma=view.decimal_comma).encode()


def _picked(answer: Answer, pick: str | None) -> Any:
    if pick == "warnings":
        return " ".join(warning.message for warning in answer.warnings)
    if pick == "cautions":
        return " ".join(caution.message for caution in answer.cautions)
    # The common case needs no copy of the whole answer.
    if pick in answer.__struct_fields__ and isinstance(getattr(answer, pick), (float, str, bool)):
        return getattr(answer, pick)
    found = dict(leaves(msgspec.to_builtins(answer)))
    if pick is not None and pick in found:
        if found[pick] is None:
            _refuse_missing_value(answer, pick)
        return found[pick]
    allowed = [*dict(own_leaves(answer)), "warnings", "cautions", "units.<field>"]
    guess = nearest(pick, allowed) if pick else None
    hint = f" Did you mean {guess!r}?" if guess else ""
    code = "unknown_field" if pick else "required"
    message = f"pick is the name of the value to return as text.{hint}"
    fault = Fault(pointer="/pick", code=code, message=message, given=pick and pick[:64], allowed=allowed)
    raise ProblemError("invalid-request", message, [fault])


def _refuse_missing_value(answer: Answer, pick: str) -> NoReturn:
    """Refuse a value that this answer does not have: an empty cell would read as nothing to worry about."""
    reasons = [warning.message for warning in answer.warnings if warning.field == pick.partition(".")[0]]
    message = " ".join([f"{pick} has no value in this answer.", *reasons])
    raise ProblemError(
        "invalid-request", message, [Fault(pointer="/pick", code="no_value", message=message, given=pick)]
    )


def _made(maker: Callable[..., bytes], *given: Any) -> bytes:
    try:
        return maker(*given)
    except MissingLibraryError as error:
        raise ProblemError("not-acceptable", str(error)) from None


def _pdf(answer: Any, view: View) -> bytes:
    if entry_of(cast("type[Answer]", type(answer))).views.page is None:
        raise ProblemError("not-acceptable", f"PDF is available for: {_offering('pdf')}.")
    return _made(page_pdf, answer, view.paper)


def _calendar(answer: Any, view: View) -> bytes:
    del view
    calendar = entry_of(cast("type[Answer]", type(answer))).views.calendar
    if calendar is None:
        raise ProblemError("not-acceptable", f"Calendars are available for: {_offering('ics')}.")
    return _made(calendar, answer)


def _offering(form: str) -> str:
    return ", ".join(path for path in calculations() if offers(path, FORMATS[form]))


def _picture(form: Form) -> Callable[[Any, View], bytes]:
    def drawn(answer: Any, view: View) -> bytes:
        del view
        drawing = entry_of(type(answer)).views.drawing if isinstance(answer, Answer) else None
        if form == "svg" and drawing is not None:
            return drawing(answer).encode()
        try:
            return render(chart_of(answer), form)
        except (NoPictureError, MissingLibraryError) as error:
            raise ProblemError("not-acceptable", str(error)) from None

    return drawn


def _has_page(path: str) -> bool:
    return find(path).views.page is not None


def _has_calendar(path: str) -> bool:
    return find(path).views.calendar is not None


@dataclass(frozen=True, slots=True)
class Format:
    """A form of answer.

    Attributes
    ----------
    batch : bool
        Whether a batch answers in it too.
    picture : bool
        Whether it is a picture, which some calculations have.
    slow : bool
        Whether it takes long enough to be made in a thread.
    only : callable, optional
        Tells, by its path, whether a calculation answers in it; all do where it is left out.
    header : (bytes, bytes)
        Content-Type, as an ASGI server takes it.
    """

    name: str
    media_type: str
    renderer: Callable[[Any, View], bytes]
    batch: bool = True
    picture: bool = False
    slow: bool = False
    only: Callable[[str], bool] | None = None
    header: tuple[bytes, bytes] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "header", (b"content-type", self.media_type.encode()))

    def render(self, answer: Any, view: View = _PLAIN) -> bytes:
        """Return an answer in this form.

        Raises
        ------
        ProblemError
            The view requests something that this format does not support.
        """
        if view.pick is not None and self.name != "text":
            message = f"pick needs format=text; with format={self.name} leave it out."
            raise ProblemError(
                "invalid-request", message, [Fault(pointer="/pick", code="not_allowed", message=message)]
            )
        return self.renderer(answer, view)


FORMATS: dict[str, Format] = {
    "json": Format("json", "application/json", _json),
    "csv": Format("csv", "text/csv; charset=utf-8", _csv),
    "text": Format("text", "text/plain; charset=utf-8", _text, batch=False),
    "html": Format("html", "text/html; charset=utf-8", _html),
    "xml": Format("xml", "application/xml; charset=utf-8", _xml),
    "msgpack": Format("msgpack", "application/msgpack", _msgpack),
    # One record a row, for query editors that take JSON tables; only by name, as its media type is JSON's.
    "table": Format("table", "application/json", _table),
    "svg": Format("svg", "image/svg+xml", _picture("svg"), batch=False, picture=True, slow=True),
    "png": Format("png", "image/png", _picture("png"), batch=False, picture=True, slow=True),
    "pdf": Format("pdf", "application/pdf", _pdf, batch=False, slow=True, only=_has_page),
    "ics": Format("ics", "text/calendar; charset=utf-8", _calendar, batch=False, only=_has_calendar),
}
_JSON_ACCEPTED = frozenset({b"", b"*/*", b"application/json"})
_BY_MEDIA_TYPE = {
    **{entry.media_type.partition(";")[0]: entry for name, entry in FORMATS.items() if name != "table"},
    "application/vnd.msgpack": FORMATS["msgpack"],
    "application/x-msgpack": FORMATS["msgpack"],
    "text/xml": FORMATS["xml"],
}


def offers(path: str, form: Format) -> bool:
    """Tell whether a calculation answers in a form, by its path."""
    if form.only is not None:
        return form.only(path)
    views = find(path).views
    return not form.picture or views.chart is not None or (form.name == "svg" and views.drawing is not None)


def choose(controls: Mapping[str, str], accept: bytes) -> Format:
    """Return the requested format.

    Parameters
    ----------
    controls : mapping
        May hold ``format`` and ``pick``; these win over the header, and ``pick`` alone means text.
    accept : bytes
        The Accept header, or nothing.

    Raises
    ------
    ProblemError
        An unknown format, or nothing acceptable.
    """
    name = controls.get("format") if controls else None
    if name is not None:
        chosen = FORMATS.get(name)
        if chosen is None:
            message = f"{name[:64]!r} is an unknown format."
            fault = Fault(pointer="/format", code="unknown_choice", message=message, allowed=list(FORMATS))
            raise ProblemError("invalid-request", message, [fault])
        return chosen
    if "pick" in controls:
        return FORMATS["text"]
    if accept in _JSON_ACCEPTED:
        return FORMATS["json"]
    return _by_accept(accept.decode("latin-1"))


def _by_accept(accept: str) -> Format:
    required: list[tuple[float, int, str]] = []
    for order, part in enumerate(accept.split(",")):
        media, *parameters = [piece.strip() for piece in part.split(";")]
        quality = next((p[2:] for p in parameters if p.startswith("q=")), "1")
        try:
            required.append((-float(quality), order, media.lower()))
        except ValueError:
            continue
    for quality, _, media in sorted(required):
        if not quality:
            break
        if media in {"*/*", "application/*", ""}:
            return FORMATS["json"]
        if media == "text/*":
            return FORMATS["csv"]
        if media in _BY_MEDIA_TYPE:
            return _BY_MEDIA_TYPE[media]
    raise ProblemError("not-acceptable", f"Available formats: {', '.join(_BY_MEDIA_TYPE)}.")
