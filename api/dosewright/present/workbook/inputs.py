"""The inputs of a calculation as rows of a sheet, each with the piece of the address it makes."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple, cast
from urllib.parse import quote

from dosewright.engine.fields.field import Field
from dosewright.engine.fields.items import ItemsField, item_texts
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.sentences import capitalised
from dosewright.present.workbook.grid import Formula, Sheet, reference
from dosewright.quantities import read

__all__ = ["Input", "inputs_of", "put_input", "put_items"]

NAME, VALUE, UNIT, MEANING, PIECE = range(5)
ITEM_ROWS = 20
_ITEM_HEAD = 4


class Input(NamedTuple):
    """One input: its name in an address, its reader, its meaning, the example's value."""

    name: str
    field: Field
    doc: str
    example: Any


def inputs_of(entry: Calculation[Any, Any], example: Mapping[str, Any], before: str = "") -> Iterator[Input]:
    """Yield the inputs of a calculation in order, those of its sections with a point in the name."""
    for field in reader_for(entry.request).fields:
        given = example.get(field.name)
        if isinstance(field, SectionField):
            inner = find(field.calculation)
            for place, section in _sections(field, given):
                yield from inputs_of(inner, section, f"{before}{place}.")
        else:
            yield Input(before + field.name, field, field.doc, given)


def _sections(field: SectionField, given: Any) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield each section that has room in a sheet, a list's by number: those of the example, or one."""
    if not field.at_most:
        yield field.name, cast("Mapping[str, Any]", given or {})
        return
    for number, section in enumerate(cast("Sequence[Mapping[str, Any]]", given or [{}])):
        yield f"{field.name}.{number}", section


def _meaning(entry: Input) -> str:
    texts = [entry.doc]
    if entry.field.limits:
        texts.append(f"{capitalised(entry.field.limits)}.")
    if entry.field.required:
        texts.append("Required.")
    elif entry.field.default_text is not None:
        texts.append(f"Empty: {entry.field.default_text}.")
    return " ".join(texts)


def _readable(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return ",".join(map(str, cast("Sequence[Any]", value)))
    return str(value)


def _point(cell: str) -> str:
    """Return a formula of a cell's text, a number with a decimal point in every locale."""
    return f'IF(ISNUMBER({cell});SUBSTITUTE({cell}&"";",";".");{cell})'


def put_input(sheet: Sheet, row: int, entry: Input) -> str:
    """Write one input that is no list of items; returns the piece of the address that the example makes."""
    sheet.put(row, NAME, entry.name, "name")
    sheet.put(row, MEANING, _meaning(entry), "wrapped")
    sheet.heights[row] = 1 + len(_meaning(entry)) // 92
    cell, unit_cell = reference(row, VALUE, fixed=False), reference(row, UNIT, fixed=False)
    requested = f"ENCODEURL({_point(cell)})"
    piece = ""
    if isinstance(entry.field, MeasureField):
        symbols = entry.field.kind.symbols
        shown: float | str = ""
        symbol = entry.field.kind.profiles["metric"].symbol
        if entry.example is not None:
            shown, unit = read(entry.example, entry.field.kind, None)
            symbol = unit.symbol
            piece = f"&{entry.name}={quote(f'{shown:.15g} {symbol}'.rstrip(), safe='')}"
        sheet.put(row, VALUE, shown, "input")
        if symbols:
            sheet.put(row, UNIT, symbol, "input_text")
            sheet.choices[row, UNIT] = symbols
            requested = f'ENCODEURL({_point(cell)}&" "&{unit_cell})'
    else:
        shown = "" if entry.example is None else _readable(entry.example)
        sheet.put(row, VALUE, shown, "input_text")
        if entry.field.names:
            sheet.choices[row, VALUE] = entry.field.names
        piece = f"&{entry.name}={quote(shown, safe='')}" if shown else ""
    sheet.put(row, PIECE, Formula(f'IF({cell}="";"";"&{entry.name}="&{requested})', piece), "small")
    return piece


def _columns(field: ItemsField) -> dict[str, tuple[str, Field]]:
    """Return the fields of all kinds of item: by name, what they mean and a reader; lists inside item by item."""
    columns: dict[str, tuple[str, Field]] = {}
    for reader in field.readers.values():
        for inner in reader.fields:
            if not isinstance(inner, ItemsField):
                columns.setdefault(inner.name, (inner.doc, inner))
                continue
            starts = [f"{inner.name}.{n}." for n in range(inner.items.at_most)] if inner.many else [f"{inner.name}."]
            for start in starts:
                for name, column in _columns(inner).items():
                    columns.setdefault(start + name, column)
    return columns


def put_items(sheet: Sheet, entry: Input) -> tuple[str, str]:
    """Write a list of items, or one, as rows of a separate sheet.

    Returns
    -------
    tuple of str
        A formula of the pieces of the address, and what it gives for the example.
    """
    field = cast("ItemsField", entry.field)
    kinds = tuple(kind for kind in field.readers if kind)
    columns = _columns(field)
    rows = ITEM_ROWS if field.many else 1
    first = 1 if kinds else 0
    last = first + len(columns)
    note = "One item a row. A quantity is written with its unit, as 120 ft, decimals with a point."
    sheet.put_title(f"{entry.name}: {entry.doc}", note, last)
    if kinds:
        sheet.put(_ITEM_HEAD - 1, 0, "kind", "head")
        sheet.put(_ITEM_HEAD - 2, 0, "Sort of item.", "tip")
    for column, (name, (doc, inner)) in enumerate(columns.items(), first):
        sheet.put(_ITEM_HEAD - 1, column, name, "head")
        sheet.put(_ITEM_HEAD - 2, column, doc, "tip")
        if inner.names:
            names = inner.names
            sheet.choices.update({(row, column): names for row in range(_ITEM_HEAD, _ITEM_HEAD + rows)})
    sheet.put(_ITEM_HEAD - 1, last, "in the address", "head")
    sheet.heights[_ITEM_HEAD - 2] = 5
    sheet.printed_columns = last
    given = entry.example if field.many else [entry.example] if entry.example else []
    pieces = [
        _put_item(sheet, _ITEM_HEAD + index, entry.name, list(columns), kinds, (given or [])[index : index + 1])
        for index in range(rows)
    ]
    cells = [reference(_ITEM_HEAD + index, last, sheet.name) for index in range(rows)]
    return "&".join(cells), "".join(pieces)


def _put_item(
    sheet: Sheet,
    row: int,
    name: str,
    columns: Sequence[str],
    kinds: tuple[str, ...],
    given: Sequence[Mapping[str, Any]],
) -> str:
    example = item_texts(given[0]) if given else {}
    first = 1 if kinds else 0
    parts: list[str] = []
    shown: list[str] = []
    if kinds:
        sheet.put(row, 0, example.get("kind", ""), "input_text")
        sheet.choices[row, 0] = kinds
        shown.append(example.get("kind", ""))
    for column, inner in enumerate(columns, first):
        value = _readable(example[inner]) if inner in example else ""
        cell = reference(row, column, fixed=False)
        sheet.put(row, column, value, "input_text")
        parts.append(f'IF({cell}="";"";";{inner}:"&ENCODEURL({_point(cell)}))')
        if value:
            shown.append(f"{inner}:{quote(value, safe='')}")
    joined = "&".join(parts)
    if kinds:
        kind = reference(row, 0, fixed=False)
        formula = f'IF({kind}="";"";"&{name}="&{kind}&{joined})'
    else:
        formula = f'IF({joined}="";"";"&{name}="&MID({joined};2;2048))'
    piece = f"&{name}={';'.join(shown)}" if given else ""
    sheet.put(row, first + len(columns), Formula(formula, piece), "small")
    return piece
