"""Ways through the register: the quantities and names of an example, the values of an answer, by what contracts say."""

from __future__ import annotations

import copy
from typing import TYPE_CHECKING, Any, NamedTuple

import hypothesis.strategies as st
import msgspec
import pytest
from hypothesis import Phase, settings

from dosewright.engine.base import Answer
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.flag import FlagField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.fields.section import SectionField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations, find
from dosewright.engine.writing import answer_fields
from dosewright.quantities import read

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from dosewright.engine.fields.field import Field
    from dosewright.engine.reading.reader import StructReader
    from dosewright.engine.registry import Calculation
    from dosewright.quantities import Kind

__all__ = [
    "BATCHED",
    "ENTRIES",
    "FEW",
    "PATHS",
    "Leaf",
    "absent",
    "addresses",
    "all_numbers",
    "as_query",
    "changed",
    "choices",
    "every_field",
    "items_of",
    "numbers",
    "own_leaves",
    "quantities",
    "span",
    "top_fields",
    "typed",
    "values_near",
    "with_more",
]

PATHS = tuple(calculations())
Keys = tuple[str | int, ...]

# Every calculation is walked by several properties, so each takes few examples; none is timed, as machines may be busy.
FEW = settings(max_examples=15, phases=[Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink])


class Leaf(NamedTuple):
    """One value of an example: where it stands, and the reader of its field."""

    keys: Keys
    field: Any
    given: Any

    @property
    def pointer(self) -> str:
        """JSON pointer."""
        return "".join(f"/{key}" for key in self.keys)

    @property
    def si(self) -> float:
        """A quantity's value in the SI profile's unit."""
        value, unit = read(self.given, self.field.kind, None)
        return float(unit.to_si(value))


def _leaves(reader: StructReader, value: Mapping[str, Any], at: Keys) -> Iterator[Leaf]:
    for field in reader.fields:
        if field.name not in value:
            continue
        given, here = value[field.name], (*at, field.name)
        if isinstance(field, SectionField):
            inner = reader_for(find(field.calculation).request)
            sections = enumerate(given) if field.at_most else [("", given)]
            for number, section in sections:
                yield from _leaves(inner, section, (*here, number) if field.at_most else here)
            continue
        if not isinstance(field, ItemsField):
            yield Leaf(here, field, given)
            continue
        items: list[tuple[Keys, Any]] = (
            [((*here, index), item) for index, item in enumerate(given)] if field.many else [(here, given)]
        )
        for keys, item in items:
            yield from _leaves(field.readers[item.get("kind", "")], item, keys)  # pyright: ignore[reportArgumentType]


def addresses(entry: Calculation[Any, Any]) -> list[str]:
    """Return where a calculation is asked: for one answer, and for a batch where it has one."""
    return [f"/v1/{entry.path}", *([f"/v1/{entry.path}/batch"] if entry.batch else [])]


def quantities(entry: Calculation[Any, Any]) -> list[Leaf]:
    """Return the quantities of an example, those of its items too."""
    return [
        leaf for leaf in _leaves(reader_for(entry.request), entry.example, ()) if isinstance(leaf.field, MeasureField)
    ]


def _absent(reader: StructReader, value: Mapping[str, Any], at: Keys) -> Iterator[Leaf]:
    for field in reader.fields:
        if isinstance(field, ItemsField):
            given = value.get(field.name)
            items = enumerate(given) if field.many and given else [("", given)] if given else []
            for index, item in items:
                keys = (*at, field.name, index) if field.many else (*at, field.name)
                yield from _absent(field.readers[item.get("kind", "")], item, keys)  # pyright: ignore[reportArgumentType]
        elif field.name not in value:
            if isinstance(field, MeasureField):
                written = field.measure.example or field.default_text
                if written is not None:
                    yield Leaf((*at, field.name), field, written)
            elif isinstance(field, ChoiceField):
                yield Leaf((*at, field.name), field, field.names[-1])
            elif isinstance(field, FlagField):
                yield Leaf((*at, field.name), field, given=True)


def absent(entry: Calculation[Any, Any]) -> list[Leaf]:
    """Return what an example leaves out, each with a value that may be given."""
    return list(_absent(reader_for(entry.request), entry.example, ()))


def with_more(entry: Calculation[Any, Any]) -> st.SearchStrategy[list[Leaf]]:
    """Return a few of what an example leaves out; not all of it goes together."""
    leaves = absent(entry)
    if not leaves:
        return st.just([])
    return st.lists(st.sampled_from(leaves), max_size=2, unique_by=lambda leaf: leaf.keys)


def choices(entry: Calculation[Any, Any]) -> list[Leaf]:
    """Return the names of an example, those of its items too."""
    return [
        leaf for leaf in _leaves(reader_for(entry.request), entry.example, ()) if isinstance(leaf.field, ChoiceField)
    ]


def items_of(entry: Calculation[Any, Any]) -> list[tuple[Keys, Mapping[str, Any]]]:
    """Return where each item of an example stands, and the item."""
    found: list[tuple[Keys, Mapping[str, Any]]] = []
    for field in top_fields(entry):
        value = entry.example.get(field.name)
        if isinstance(field, ItemsField) and value is not None:
            found += (
                [((field.name, index), item) for index, item in enumerate(value)]
                if field.many
                else [((field.name,), value)]
            )
    return found


def span(leaf: Leaf) -> tuple[float, float]:
    """Return the SI range from half to twice an example's value, as far as its bounds allow."""
    field, size = leaf.field, abs(leaf.si) or 1.0
    ends = sorted((leaf.si - 0.5 * size, leaf.si + size))
    return max(ends[0], field.lowest), min(ends[1], field.highest)


def values_near(leaf: Leaf) -> st.SearchStrategy[str]:
    """Return texts near an example's value, in any unit of its kind."""
    kind = leaf.field.kind

    def written(si: float, symbol: str) -> str:
        # What is next to nothing is nothing: its many digits of exponent are no way to write a quantity.
        value = kind.lookup[symbol].from_si(si if abs(si) > 1e-30 else 0.0)
        return f"{value!r} {symbol}".rstrip()

    return st.builds(written, st.floats(*span(leaf)), st.sampled_from(kind.symbols or ("",)))


def every_field(entry: Calculation[Any, Any]) -> Iterator[tuple[type[Any], Field]]:
    """Yield each field of a request and of its items, whether the example gives it or not, with what holds it."""
    waiting: list[Any] = [reader_for(entry.request)]
    while waiting:
        reader = waiting.pop()
        for field in reader.fields:
            yield reader.struct, field
            if isinstance(field, ItemsField):
                waiting.extend(field.readers.values())
            elif isinstance(field, SectionField):
                waiting.append(reader_for(find(field.calculation).request))


def changed(payload: Mapping[str, Any], changes: Mapping[Keys, Any]) -> dict[str, Any]:
    """Return a copy of a request with some of its values replaced."""
    copied = copy.deepcopy(dict(payload))
    for keys, value in changes.items():
        inner: Any = copied
        for key in keys[:-1]:
            inner = inner[key]
        inner[keys[-1]] = value
    return copied


def top_fields(entry: Calculation[Any, Any]) -> tuple[Field, ...]:
    """Return the fields of a request, without those of its items."""
    return reader_for(entry.request).fields


def typed(field: Field, value: Any) -> Any:
    """Return an example's value with its items built from their types."""
    if not isinstance(field, ItemsField) or value is None:
        return value
    if field.many:
        return [_built(field, item) for item in value]
    return _built(field, value)


def _built(field: ItemsField, item: Mapping[str, Any]) -> Any:
    reader = field.readers[item.get("kind", "")]
    inner = {one.name: typed(one, item[one.name]) for one in reader.fields if one.name in item}
    return reader.struct(**inner)


def as_query(entry: Calculation[Any, Any], payload: Mapping[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    """Return a request of texts as the parameters of an address."""
    sections = {field.name: field for field in top_fields(entry) if isinstance(field, SectionField)}
    pairs: list[tuple[str, str]] = []
    for name, value in payload.items():
        if name in sections:
            inner, numbered = find(sections[name].calculation), sections[name].at_most
            for number, section in enumerate(value) if numbered else [("", value)]:
                pairs += as_query(inner, section, f"{prefix}{name}.{number}{'.' if numbered else ''}")
        elif name == "answer_units":
            pairs.append((prefix + name, ";".join(f"{field}:{unit}" for field, unit in value.items())))
        elif isinstance(value, list):
            pairs.extend((prefix + name, as_word(item)) for item in value)
        else:
            pairs.append((prefix + name, as_word(value)))
    return pairs


def as_word(value: Any) -> str:
    """Return a value as written in an address."""
    return as_item(value) if isinstance(value, dict) else str(value).lower() if isinstance(value, bool) else str(value)


def as_item(value: Mapping[str, Any]) -> str:
    """Return an item as one parameter of an address; lists and parts inside it with points."""
    parts = [f"{name}:{as_word(inner)}" for name, inner in _flat(value).items() if name != "kind"]
    return ";".join([value["kind"], *parts] if "kind" in value else parts)


def _flat(value: Mapping[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, inner in value.items():
        held = dict(enumerate(inner)) if isinstance(inner, list) else inner
        if isinstance(held, dict):
            flat.update({f"{name}.{key}": one for key, one in _flat({str(key): held[key] for key in held}).items()})
        else:
            flat[name] = inner
    return flat


def numbers(struct: type[Any], prefix: str = "") -> Iterator[tuple[str, Kind]]:
    """Yield the name and kind of each numeric field of an answer; a field of list items is ``list.field``."""
    for field in answer_fields(struct):
        if field.kind is not None:
            yield prefix + field.name, field.kind
        elif field.struct is not None:
            yield from numbers(field.struct, f"{prefix}{field.name}.")


def all_numbers(struct: type[Any], prefix: str = "") -> Iterator[tuple[str, Kind]]:
    """As :func:`numbers`, with those of the whole answers that stand inside an answer."""
    yield from numbers(struct, prefix)
    for field in answer_fields(struct):
        section = field.schema.get("section")
        if section is not None:
            yield from all_numbers(find(section).answer, f"{prefix}{field.name}.")


def own_leaves(answer: Any, prefix: str = "") -> dict[str, Any]:
    """Return the values of a calculation's own fields, and of the answers inside it, by the name each is picked by."""
    found: dict[str, Any] = {}

    def walk(value: Any, name: str) -> None:
        if isinstance(value, Answer):
            found.update(own_leaves(value, f"{name}."))
        elif isinstance(value, (list, tuple)):
            for index, inner in enumerate(value):
                walk(inner, f"{name}.{index}")
        elif isinstance(value, msgspec.Struct):
            for inner in value.__struct_fields__:
                walk(getattr(value, inner), f"{name}.{inner}")
        else:
            found[name] = msgspec.to_builtins(value)

    for field in answer_fields(type(answer)):
        walk(getattr(answer, field.name), prefix + field.name)
    return found


ENTRIES = pytest.mark.parametrize("entry", list(calculations().values()), ids=PATHS)
# Calculations that answer batches, and whose example gives a quantity that may be a column.
BATCHED = pytest.mark.parametrize(
    "entry",
    [entry for entry in calculations().values() if entry.batch and quantities(entry)],
    ids=lambda entry: entry.path,
)
