"""Where a field belongs that is unknown here: in an item or section of the same request, or another calculation."""

from collections.abc import Callable, Iterator, Sequence

from dosewright.engine.fields.field import Field, StructReads
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.section import SectionField

__all__ = ["place_elsewhere", "place_within", "register_fields"]

_MOST_PLACES = 3
_READERS: dict[str, Callable[[], StructReads]] = {}


def register_fields(path: str, reader: Callable[[], StructReads]) -> None:
    """Make the fields of a calculation known; its reader is compiled when first needed."""
    _READERS[path] = reader


def place_within(fields: Sequence[Field], name: str, *, in_item: bool = False) -> str:
    """Say which items or sections of this request have a field of this name; an empty text where none has.

    `in_item`: the fields are those of an item, where a query names a list inside with points.
    """
    for field in fields:
        if isinstance(field, ItemsField):
            kinds = _kinds_with(field, name)
            if kinds:
                if in_item:
                    return f" Use {field.name}.0.{name}:…." if field.many else f" Use {field.name}.{name}:…."
                plain = "plain_volume" if "plain_volume" in kinds else kinds[0]
                item = ";".join(part for part in (plain, f"{name}:…") if part)
                others = f" It belongs to {', '.join(kinds)}." if len(kinds) > 1 else ""
                return f" Use {field.name}={item}.{others}"
    sections = [
        field.name
        for field in fields
        if isinstance(field, SectionField) and field.calculation in _READERS and name in _known(field.calculation)
    ]
    return f" It belongs in the section {' or '.join(sections[:_MOST_PLACES])}." if sections else ""


def place_elsewhere(name: str) -> str:
    """Say which other calculations have a field of this name; an empty text where none has."""
    places = [place for path in sorted(_READERS) for place in _places_in(path, name)]
    # A composed request is not named for the fields of its sections, so each place is its own calculation.
    return f" It is a field of {' and '.join(places[:_MOST_PLACES])}." if places else ""


def _known(path: str) -> frozenset[str]:
    return _READERS[path]().known


def _kinds_with(field: ItemsField, name: str) -> list[str]:
    return [kind for kind, reader in field.readers.items() if name in reader.known]


def _places_in(path: str, name: str) -> Iterator[str]:
    if name in _known(path):
        yield path
        return
    for field in _READERS[path]().fields:
        if isinstance(field, ItemsField) and _kinds_with(field, name):
            yield f"{path} ({field.name})"
            return
