"""Writes a workbook as OpenDocument: a package of a few XML files, the chart a document inside it."""

import io
import zipfile
from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from dosewright.present.workbook.chart_document import MEDIA_TYPE as CHART_TYPE
from dosewright.present.workbook.chart_document import chart_document
from dosewright.present.workbook.grid import Book, Cell, Formula, Sheet, column_name, translated
from dosewright.present.workbook.looks import LOOKS, Look
from dosewright.present.workbook.namespaces import namespaces

__all__ = ["as_ods", "ods_formula"]

_MEDIA_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_VENDOR = {name: f"COM.MICROSOFT.{name}" for name in ("WEBSERVICE", "ENCODEURL")}
_LINE_MILLIMETRES = 4.7
_CHARACTER_MILLIMETRES = 1.95
_DATA_STYLES = (
    '<number:text-style style:name="AsTyped"><number:text-content/></number:text-style>'
    '<number:number-style style:name="Large" style:volatile="true"><number:number number:decimal-places="1" '
    'number:min-decimal-places="1" number:min-integer-digits="1" number:grouping="true"/></number:number-style>'
    '<number:number-style style:name="Usual" style:volatile="true"><number:number number:decimal-places="4" '
    'number:min-decimal-places="4" number:min-integer-digits="1"/></number:number-style>'
    '<number:number-style style:name="Shown"><number:number number:min-integer-digits="1"/>'
    '<style:map style:condition="value()&gt;=1000" style:apply-style-name="Large"/>'
    '<style:map style:condition="value()&gt;=0.01" style:apply-style-name="Usual"/></number:number-style>'
)
_CHART_SIZE = (148.0, 90.0)
# A fixed time, so that the same question makes the same file.
_TIME = (1980, 1, 1, 0, 0, 0)


def ods_formula(formula: str) -> str:
    """Return a formula in the format's notation."""
    return "of:=" + translated(formula, _reference, _VENDOR, ";")


def _reference(sheet: str, address: str) -> str:
    return f"[$'{sheet}'.{address}]" if sheet else f"[.{address}]"


def as_ods(book: Book) -> bytes:
    """Return a workbook's file."""
    out = io.BytesIO()
    charts = [sheet for sheet in book.sheets if sheet.chart]
    parts = {
        "content.xml": _content(book),
        "styles.xml": _page_styles(),
        "meta.xml": _meta(book),
        **{f"Chart{index}/content.xml": chart_document(sheet) for index, sheet in enumerate(charts, 1)},
    }
    kinds = {"/": _MEDIA_TYPE, **{f"Chart{index}/": CHART_TYPE for index in range(1, len(charts) + 1)}}
    kinds |= dict.fromkeys(parts, "text/xml")
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        # The type comes first and unpacked, by the standard.
        package.writestr(zipfile.ZipInfo("mimetype", _TIME), _MEDIA_TYPE, zipfile.ZIP_STORED)
        for name, text in {**parts, "META-INF/manifest.xml": _manifest(kinds)}.items():
            package.writestr(zipfile.ZipInfo(name, _TIME), text, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _manifest(kinds: dict[str, str]) -> str:
    entries = "".join(
        f'<manifest:file-entry manifest:full-path="{name}" manifest:media-type="{kind}"/>'
        for name, kind in kinds.items()
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest manifest:version="1.3" '
        f'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">{entries}</manifest:manifest>'
    )


def _meta(book: Book) -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-meta {namespaces("office", "meta")} '
        f'xmlns:dc="http://purl.org/dc/elements/1.1/" office:version="1.3"><office:meta>'
        f"<dc:title>{escape(book.title)}</dc:title></office:meta></office:document-meta>"
    )


def _page_styles() -> str:
    def page(name: str, width: str, height: str, orientation: str) -> str:
        return (
            f'<style:page-layout style:name="{name}"><style:page-layout-properties fo:page-width="{width}" '
            f'fo:page-height="{height}" style:print-orientation="{orientation}" style:scale-to-X="1" '
            'style:scale-to-Y="0" fo:margin="12mm"/></style:page-layout>'
        )

    return (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-styles {namespaces("office", "style", "fo")} '
        'office:version="1.3"><office:styles><style:default-style style:family="table-cell"><style:text-properties '
        'style:font-name="Arial" fo:font-family="Arial" fo:font-size="10pt"/></style:default-style></office:styles>'
        f"<office:automatic-styles>{page('Upright', '210mm', '297mm', 'portrait')}"
        f"{page('Across', '297mm', '210mm', 'landscape')}</office:automatic-styles><office:master-styles>"
        '<style:master-page style:name="Upright" style:page-layout-name="Upright"/>'
        '<style:master-page style:name="Across" style:page-layout-name="Across"/>'
        "</office:master-styles></office:document-styles>"
    )


def _content(book: Book) -> str:
    lists = {names: f"list{index}" for index, names in enumerate(_lists(book), 1)}
    needed = ("office", "table", "text", "style", "fo", "number", "draw", "svg", "of")
    tables = "".join(_table(sheet, lists, book) for sheet in book.sheets)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {namespaces(*needed)} '
        'xmlns:xlink="http://www.w3.org/1999/xlink" office:version="1.3">'
        f"<office:automatic-styles>{''.join(_styles(book))}</office:automatic-styles><office:body><office:spreadsheet>"
        f"<table:content-validations>{''.join(_validation(name, names) for names, name in lists.items())}"
        f"</table:content-validations>{tables}</office:spreadsheet></office:body></office:document-content>"
    )


def _lists(book: Book) -> dict[tuple[str, ...], None]:
    return dict.fromkeys(names for sheet in book.sheets for names in sheet.choices.values())


def _validation(name: str, names: tuple[str, ...]) -> str:
    listed = ";".join(f'"{one}"' for one in names)
    condition = quoteattr(f"of:cell-content-is-in-list({listed})")
    return (
        f'<table:content-validation table:name="{name}" table:condition={condition} table:allow-empty-cell="true" '
        'table:display-list="unsorted"><table:error-message table:message-type="warning" table:display="true"/>'
        "</table:content-validation>"
    )


def _styles(book: Book) -> Iterator[str]:
    yield _DATA_STYLES
    for name, look in LOOKS.items():
        yield _cell_style(name, look)
    for width in dict.fromkeys(width for sheet in book.sheets for width in sheet.widths):
        millimetres = width * _CHARACTER_MILLIMETRES + 1.3
        yield (
            f'<style:style style:name="w{width:g}" style:family="table-column">'
            f'<style:table-column-properties style:column-width="{millimetres:.1f}mm"/></style:style>'
        )
    for lines in dict.fromkeys([1, *(lines for sheet in book.sheets for lines in sheet.heights.values())]):
        yield (
            f'<style:style style:name="h{lines:g}" style:family="table-row"><style:table-row-properties '
            f'style:row-height="{lines * _LINE_MILLIMETRES:.1f}mm" style:use-optimal-row-height="false"/></style:style>'
        )
    for page in ("Upright", "Across"):
        yield (
            f'<style:style style:name="sheet{page}" style:family="table" style:master-page-name="{page}">'
            '<style:table-properties table:display="true"/></style:style>'
        )


def _cell_style(name: str, look: Look) -> str:
    cell = f'fo:wrap-option="{"wrap" if look.wrap else "no-wrap"}" style:vertical-align="top"'
    cell += f' fo:background-color="{look.fill}"' if look.fill else ""
    cell += f' fo:border="0.5pt solid {look.border}"' if look.border else ""
    text = f'fo:font-size="{look.size}pt" fo:color="{look.colour}"'
    text += ' fo:font-weight="bold"' if look.bold else ""
    text += ' fo:font-style="italic"' if look.italic else ""
    align = f'<style:paragraph-properties fo:text-align="{"end" if look.right else "start"}"/>'
    data = ' style:data-style-name="AsTyped"' if look.text else ""
    data = ' style:data-style-name="Shown"' if look.number else data
    return (
        f'<style:style style:name="{name}" style:family="table-cell"{data}><style:table-cell-properties {cell}/>'
        f"{align}<style:text-properties {text}/></style:style>"
    )


def _table(sheet: Sheet, lists: dict[tuple[str, ...], str], book: Book) -> str:
    columns = "".join(f'<table:table-column table:style-name="w{width:g}"/>' for width in sheet.widths)
    body = "".join(_row(sheet, row, lists, book) for row in range(sheet.rows))
    page = "Across" if sheet.landscape else "Upright"
    return (
        f'<table:table table:name={quoteattr(sheet.name)} table:style-name="sheet{page}"{_printed(sheet)}>'
        f"{columns}{body}</table:table>"
    )


def _printed(sheet: Sheet) -> str:
    if not sheet.printed_columns:
        return ""
    quoted = f"'{sheet.name}'"
    last = f"{column_name(sheet.printed_columns - 1)}{sheet.rows}"
    return f" table:print-ranges={quoteattr(f'{quoted}.A1:{quoted}.{last}')}"


def _row(sheet: Sheet, row: int, lists: dict[tuple[str, ...], str], book: Book) -> str:
    spans = {first: last - first + 1 for at, first, last in sheet.merged if at == row}
    covered = {column for first, span in spans.items() for column in range(first + 1, first + span)}
    cells: list[str] = []
    for column in range(max((at for line, at in sheet.cells if line == row), default=-1) + 1):
        if column in covered:
            cells.append("<table:covered-table-cell/>")
            continue
        attributes = f' table:number-columns-spanned="{spans[column]}"' if column in spans else ""
        names = sheet.choices.get((row, column))
        if names:
            attributes += f' table:content-validation-name="{lists[names]}"'
        cells.append(_cell(sheet.cells.get((row, column)), attributes))
    if sheet.chart and sheet.chart.at[0] == row:
        cells.append(_frame(sheet, len(cells), book))
    lines = sheet.heights.get(row, 1)
    inside = "".join(cells) or "<table:table-cell/>"
    return f'<table:table-row table:style-name="h{lines:g}">{inside}</table:table-row>'


def _cell(cell: Cell | None, attributes: str) -> str:
    if cell is None:
        return "<table:table-cell/>"
    attributes += f' table:style-name="{cell.look}"'
    value = cell.content.value if isinstance(cell.content, Formula) else cell.content
    if isinstance(cell.content, Formula):
        attributes += f" table:formula={quoteattr(ods_formula(cell.content.text))}"
    if not isinstance(value, str):
        return f'<table:table-cell{attributes} office:value-type="float" office:value="{value!r}"/>'
    if not value and not isinstance(cell.content, Formula):
        return f"<table:table-cell{attributes}/>"
    lines = "".join(f"<text:p>{escape(line)}</text:p>" for line in value.split("\n"))
    return f'<table:table-cell{attributes} office:value-type="string">{lines}</table:table-cell>'


def _frame(sheet: Sheet, column: int, book: Book) -> str:
    """Return the cells up to the chart and the one that holds it."""
    chart = sheet.chart
    assert chart is not None  # noqa: S101 - the caller looks
    number = [one.name for one in book.sheets if one.chart].index(sheet.name) + 1
    name = quoteattr(sheet.name)
    watched = " ".join(
        f"{sheet.name}.{column_name(at)}{chart.first}:{sheet.name}.{column_name(at)}{chart.last + 1}"
        for at in (chart.x_column, chart.y_column)
    )
    width, height = _CHART_SIZE
    return "<table:table-cell/>" * (chart.at[1] - column) + (
        f'<table:table-cell><draw:frame draw:name={name} svg:width="{width}mm" svg:height="{height}mm" '
        f'svg:x="2mm" svg:y="1mm"><draw:object xlink:href="./Chart{number}" xlink:type="simple" '
        f'draw:notify-on-update-of-ranges="{escape(watched)}"/></draw:frame></table:table-cell>'
    )
