"""The contract of a release as a digest of its OpenAPI document, and what in a later one breaks its callers.

The digest holds what a client is made of: addresses, methods, names of operations and types, members, which of them
are required, their types, names, units and bounds, and the forms of the answers. Words, examples and patterns break no
client and are left out.

An expression describes the allowed values: ``number`` or the name of a type, ``=name`` for a literal, a list
of alternatives, ``{"each": …, "least": …, "most": …}`` for a list, ``{"members": …, "more": …, "of": …}`` for an
object, ``of`` naming the types whose members it has too. The name of a required member ends with ``!``; its bounds
follow its type: ``FlowQuantity; >0 L/min <=1 m3/s``.
"""

import base64
import json
import re
import textwrap
import zlib
from collections.abc import Callable, Iterator, Mapping
from typing import Any, cast

from dosewright.quantities import KINDS

__all__ = ["breaks", "digest", "digest_text", "pack", "unpack"]

Part = dict[str, Any]
_LIST = "a list"
_LENGTHS = {"least": "minItems", "most": "maxItems"}
_METHODS = ("get", "post", "put", "patch", "delete")
_BOUNDS = re.compile(r"Allowed: (.+?)\.(?= |$)")
_SIGNS = {"above": ">", "at least": ">=", "below": "<", "at most": "<="}
_SIGNED = re.compile(r"([<>])(=?)([-+0-9.e]+)(?: ([^ <>]+))?")
_BOUND = re.compile(r"(above|at least|below|at most) ([-+0-9.e]+) ?(\S*?)(?= and |$)")


def digest(document: Part) -> Part:
    """Return the digest of an OpenAPI document."""
    operations: Part = {}
    for path, item in document["paths"].items():
        for method in _METHODS:
            if method in item:
                operations[f"{method.upper()} {path}"] = _operation(item[method], item, document)
    types = {name: _expression(schema) for name, schema in document["components"]["schemas"].items()}
    return {
        "version": document["info"]["version"],
        "operations": operations,
        "types": dict(sorted(types.items())),
    }


def digest_text(part: Part) -> str:
    """Return a digest as JSON with one line for each operation and each type, to be read by people."""
    lines = [f'"version": {json.dumps(part["version"])}']
    for section in ("operations", "types"):
        entries = (f"{json.dumps(name)}:{_compact(value)}" for name, value in part[section].items())
        lines.append(f'"{section}": {{\n' + ",\n".join(entries) + "\n}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def pack(part: Part) -> str:
    """Return what is committed of a digest: its version, and the rest compressed, in lines of base 64."""
    packed = base64.b64encode(zlib.compress(digest_text(part).encode(), 9)).decode()
    return json.dumps({"version": part["version"], "zlib_base64": textwrap.wrap(packed, 120)}, indent=0) + "\n"


def unpack(text: str) -> Part:
    """Return the digest that :func:`pack` wrote."""
    return json.loads(zlib.decompress(base64.b64decode("".join(json.loads(text)["zlib_base64"]))))


def _compact(value: Any) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def _resolved(part: Part, document: Part) -> Part:
    if "$ref" not in part:
        return part
    target: Any = document
    for step in part["$ref"].removeprefix("#/").split("/"):
        target = target[step]
    return cast("Part", target)


def _operation(operation: Part, item: Part, document: Part) -> Part:
    parameters = [_resolved(one, document) for one in (*item.get("parameters", ()), *operation.get("parameters", ()))]
    query = {one["name"] + ("!" if one.get("required") else ""): _expression(one["schema"]) for one in parameters}
    answers = {status: _resolved(one, document) for status, one in operation["responses"].items()}
    return {
        "id": operation["operationId"],
        "query": query,
        **({"body": _contents(operation["requestBody"])} if "requestBody" in operation else {}),
        "answers": {status: _contents(one) for status, one in answers.items() if status.startswith("2")},
        "refusals": " ".join(status for status in answers if not status.startswith("2")),
    }


def _contents(part: Part) -> Part:
    """Return the media types of a body by the type that it holds; plain text is listed with the others."""
    forms: dict[str, list[str]] = {}
    held = ""
    for form, content in part.get("content", {}).items():
        kind = _expression(content["schema"])
        held = held if kind == "string" else kind
        forms.setdefault(held, []).append(form)
    return {kind: " ".join(found) for kind, found in forms.items()}


def _expression(schema: Part) -> Any:
    """Return what a schema admits."""
    if "$ref" in schema:
        return schema["$ref"].rpartition("/")[2]
    if "enum" in schema:
        return [f"={name}" for name in schema["enum"]]
    if "const" in schema:
        return f"={schema['const']}"
    for union in ("anyOf", "oneOf"):
        if union in schema:
            return [_expression(one) for one in schema[union]]
    kinds = schema.get("type", "any")
    if isinstance(kinds, list):
        return [_expression({**schema, "type": kind}) for kind in cast("list[str]", kinds)]
    if kinds == "array":
        limits = {ours: schema[theirs] for ours, theirs in _LENGTHS.items() if theirs in schema}
        return {"each": _expression(schema.get("items", {})), **limits}
    if kinds == "object" or "properties" in schema or "allOf" in schema:
        return _object(schema)
    return kinds


def _object(schema: Part) -> Part:
    required = schema.get("required", ())
    members = {
        f"{name}!" if name in required else name: _member(one) for name, one in schema.get("properties", {}).items()
    }
    members |= {f"{name}!": "any" for name in required if name not in schema.get("properties", {})}
    more = schema.get("additionalProperties")
    return {
        "members": members,
        **({"of": [_expression(one) for one in schema["allOf"]]} if "allOf" in schema else {}),
        **({"more": _expression(cast("Part", more))} if isinstance(more, dict) else {}),
    }


def _member(schema: Part) -> Any:
    texts = _expression(schema)
    bounds = _BOUNDS.search(schema.get("description", ""))
    if not bounds or not isinstance(texts, str):
        return texts
    signs = (f"{_SIGNS[word]}{number} {symbol}".strip() for word, number, symbol in _BOUND.findall(bounds[1]))
    return f"{texts}; {' '.join(signs)}"


def _type_of(text: str) -> str:
    return text.partition("; ")[0]


def breaks(before: Part, after: Part) -> list[str]:
    """Return what breaks a caller of the contract `before` once the service holds `after`, in words."""
    comparison = _Comparison(before["types"], after["types"])
    found = [f"type {name} is gone" for name in before["types"] if name not in after["types"]]
    for address, old in before["operations"].items():
        new = after["operations"].get(address)
        found += [f"{address} is gone"] if new is None else _operation_breaks(address, old, new, comparison)
    return list(dict.fromkeys(found))


def _operation_breaks(at: str, old: Part, new: Part, comparison: "_Comparison") -> Iterator[str]:
    if old["id"] != new["id"]:
        yield f"{at}: operation {old['id']} is now {new['id']}"
    yield from comparison.inputs(f"{at} query", {"members": old["query"]}, {"members": new["query"]})
    yield from _forms_break(f"{at} body", old.get("body", {}), new.get("body", {}), comparison.inputs)
    for status, forms in old["answers"].items():
        if status in new["answers"]:
            yield from _forms_break(f"{at} {status}", forms, new["answers"][status], comparison.outputs)
        else:
            yield f"{at}: status {status} is gone"


def _forms_break(at: str, old: Part, new: Part, compare: Callable[[str, Any, Any], Iterator[str]]) -> Iterator[str]:
    now = {form: held for held, forms in new.items() for form in forms.split()}
    for held, forms in old.items():
        for form in forms.split():
            if form not in now:
                yield f"{at}: {form} is gone"
            else:
                yield from compare(f"{at} {form}", held, now[form])


class _Comparison:
    """Compares expressions: an input must still take what it took, an output hold nothing new in an old place."""

    def __init__(self, before: Part, after: Part) -> None:
        self._before, self._after = before, after
        self._compared: set[tuple[bool, str]] = set()

    def inputs(self, at: str, old: Any, new: Any) -> Iterator[str]:
        """Yield what a request could say and can no longer."""
        yield from self._bounds(at, old, new)
        olds, news = _alternatives(old, self._before), _alternatives(new, self._after)
        for key, texts in olds.items():
            if key in news:
                if self._first(key, requested=True):
                    yield from self._input_part(at, texts, news[key])
            elif not _within(key, news):
                yield f"{at}: {key} is not taken any more"

    def _input_part(self, at: str, old: Any, new: Any) -> Iterator[str]:
        if not isinstance(old, dict):
            return
        old_part, new_part = cast("Part", old), cast("Part", new)
        if old_part.get("least", 0) < new_part.get("least", 0) or old_part.get("most", 1e9) > new_part.get("most", 1e9):
            yield f"{at}: fewer lengths of the list are taken"
        if "each" in old_part:
            yield from self.inputs(f"{at}[]", old_part["each"], new_part["each"])
        olds, news = _members(old_part, self._before), _members(new_part, self._after)
        for name, (_, texts) in olds.items():
            if name not in news:
                yield f"{at}: input {name} is gone"
            else:
                yield from self.inputs(f"{at}.{name}", texts, news[name][1])
        for name, (required, _) in news.items():
            if required and not olds.get(name, (False,))[0]:
                yield f"{at}: input {name} is now required"

    def outputs(self, at: str, old: Any, new: Any) -> Iterator[str]:
        """Yield what an answer always had and no longer has, and what it can have that it could not."""
        olds, news = _alternatives(old, self._before), _alternatives(new, self._after)
        for key, texts in news.items():
            if key in olds:
                if self._first(key, requested=False):
                    yield from self._output_part(at, olds[key], texts)
            elif not _within(key, olds) and not (key.startswith("=") and any(one.startswith("=") for one in olds)):
                yield f"{at}: can be {key} now"

    def _output_part(self, at: str, old: Any, new: Any) -> Iterator[str]:
        if not isinstance(old, dict):
            return
        old_part, new_part = cast("Part", old), cast("Part", new)
        for inner in ("each", "more"):
            if inner in old_part and inner in new_part:
                yield from self.outputs(f"{at}[]", old_part[inner], new_part[inner])
        news = _members(new_part, self._after)
        for name, (certain, texts) in _members(old_part, self._before).items():
            if name not in news:
                yield f"{at}: {name} is gone"
                continue
            if certain and not news[name][0]:
                yield f"{at}: {name} can be absent now"
            yield from self.outputs(f"{at}.{name}", texts, news[name][1])

    def _first(self, key: str, *, requested: bool) -> bool:
        """Return whether a type occurs for the first time; other schemas are compared each time."""
        if key not in self._before:
            return True
        first = (requested, key) not in self._compared
        self._compared.add((requested, key))
        return first

    def _bounds(self, at: str, old: Any, new: Any) -> Iterator[str]:
        texts, known = _bounds_of(new), _bounds_of(old)
        lowest, highest = _limits(known)
        low, high = _limits(texts)
        if low > lowest or high < highest:
            yield f"{at}: allowed is {texts or 'anything'}, was {known or 'anything'}"


def _alternatives(expression: Any, types: Part) -> dict[str, Any]:
    """Return what an expression admits, by a key: unions and sets of names are taken apart, lists are put together."""
    if isinstance(expression, list):
        found: dict[str, Any] = {}
        for one in cast("list[Any]", expression):
            for key, texts in _alternatives(one, types).items():
                found[key] = _either(found[key], texts) if key == _LIST and key in found else texts
        return found
    if isinstance(expression, dict):
        part = cast("Part", expression)
        return {_LIST if "each" in part else "an object": part}
    expression = _type_of(expression)
    texts = types.get(expression)
    if texts is None or (isinstance(texts, dict) and "each" not in texts):
        return {expression: texts or expression}
    return _alternatives(texts, types)


def _either(one: Part, other: Part) -> Part:
    """Return a list of the entries of both."""
    merged: Part = {"each": [one["each"], other["each"]], "least": min(one.get("least", 0), other.get("least", 0))}
    if "most" in one and "most" in other:
        merged["most"] = max(one["most"], other["most"])
    return merged


def _bounds_of(expression: Any) -> str:
    return expression.partition("; ")[2] if isinstance(expression, str) else ""


def _within(key: str, others: Mapping[str, Any]) -> bool:
    """Return whether the meaning of a key is part of a wider alternative."""
    wider = "string" if key.startswith("=") else "number" if key == "integer" else "any"
    return wider in others or "any" in others


def _members(part: Part, types: Part) -> dict[str, tuple[bool, Any]]:
    """Return each member's expression, and whether it is required; with those of the types it is made of."""
    found: dict[str, tuple[bool, Any]] = {}
    for other in part.get("of", ()):
        found |= _members(types[other], types)
    for key, texts in part.get("members", {}).items():
        name, required = key.removesuffix("!"), key.endswith("!")
        known = found.get(name, (False, "any"))
        found[name] = (required or known[0], texts if texts != "any" else known[1])
    return found


def _limits(bounds: str) -> tuple[tuple[float, bool], tuple[float, bool]]:
    """Return the lower and the upper bound in SI, each with whether it is itself excluded or included."""
    lowest, highest = (-1e300, False), (1e300, True)
    for sign, equal, number, symbol in _SIGNED.findall(bounds):
        value = _si(float(number), symbol)
        if sign == ">":
            lowest = (value, not equal)
        else:
            highest = (value, bool(equal))
    return lowest, highest


def _si(value: float, symbol: str) -> float:
    """Return a bound in SI: two bounds of one member can have different units."""
    found = (kind.lookup[symbol] for kind in KINDS.values() if symbol in kind.lookup)
    unit = next(found, None)
    return value if unit is None else float(unit.to_si(value))
