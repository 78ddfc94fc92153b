"""What every kind of field has in common, and the state of one request that is being read.

A kind of field is one module of this package: its description, which a contract puts on a field, and its reader, which
the description makes. The reader is the only source of a field's form: for the command line, the web page,
the templates, the OpenAPI document and the client's signatures.
"""

import types
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, Protocol, Union, get_args, get_origin
from urllib.parse import quote

import msgspec

from dosewright.engine.faults import MOST_FAULTS, Fault, more_faults
from dosewright.quantities import Kind, UnitProfile, shortened

__all__ = [
    "MISSING",
    "Alias",
    "AnswerField",
    "Description",
    "Field",
    "Printed",
    "Reading",
    "Refs",
    "StructReads",
    "Structs",
    "default",
    "members_of",
    "quoted",
    "strip_none",
]

MISSING: Any = object()
"""The default of a required field."""


def default(value: Any) -> Any:
    """Give a quantity field its default as a text with a unit, e.g. ``default("10 degC")``.

    The type checker sees any type, since the field's own type is the caller's or the calculation's.
    """
    return value


def quoted(text: str) -> str:
    """Return a text as written in a query."""
    return quote(text, safe="/")


class Printed(NamedTuple):
    """A value in other words than a quantity: the text as given, and the quantity as written in a query."""

    text: str
    plain: str


class Reading:
    """One request being read: the profile in force, the faults found, the question it makes.

    Attributes
    ----------
    batch : bool
        Whether quantities can be columns.
    query : bool
        Whether values come from a query, where list items are texts.
    faults : list of Fault
        Faults of the whole request, in field order.
    row_faults : list of Fault
        Faults of single rows of a batch.
    query_parameters : list of str
        The request as query parameters, quoted.
    defaults : dict of str to str
        Defaults used.
    printed : dict of str to Printed
        Values given in other words than a quantity, by field.
    undecided : dict of str to str
        Why a value that was given counts as not given, by field.
    """

    __slots__ = (
        "batch",
        "defaults",
        "faults",
        "printed",
        "profile",
        "query",
        "query_parameters",
        "row_faults",
        "undecided",
    )

    def __init__(self, *, batch: bool = False, query: bool = False) -> None:
        self.batch = batch
        self.query = query
        self.profile: UnitProfile | None = None
        self.faults: list[Fault] = []
        self.row_faults: list[Fault] = []
        self.query_parameters: list[str] = []
        self.defaults: dict[str, str] = {}
        self.printed: dict[str, Printed] = {}
        self.undecided: dict[str, str] = {}

    def fault(
        self,
        pointer: str,
        code: str,
        message: str,
        given: object = MISSING,
        allowed: Any = None,
        rows: list[int] | None = None,
    ) -> None:
        """Note a fault of the whole request."""
        if self.full:
            return
        shown = None if given is MISSING else shortened(given)
        self.faults.append(Fault(pointer=pointer, code=code, message=message, given=shown, allowed=allowed, rows=rows))
        if self.full:
            self.faults.append(more_faults())

    @property
    def full(self) -> bool:
        """Whether the number of faults reported at once is reached."""
        return len(self.faults) >= MOST_FAULTS


class AnswerField(NamedTuple):
    """One field of an answer: a quantity (`kind`), one or many structs (`struct`), or a text or flag (`schema`)."""

    name: str
    doc: str
    optional: bool
    kind: Kind | None = None
    struct: type[Any] | None = None
    many: bool = False
    schema: Mapping[str, Any] = {}
    flag: bool = False


class StructReads(Protocol):
    """What the reader of a struct offers."""

    struct: type[Any]
    known: frozenset[str]
    fields: tuple["Field", ...]

    def read(self, raw: Mapping[str, Any], at: str, reading: "Reading") -> Any:
        """Read a struct."""
        ...


class Refs(Protocol):
    """Names the shared parts of a JSON Schema, each as a reference; whoever writes the document says how."""

    def quantity(self, kind: Kind, *, batch: bool) -> dict[str, Any]:
        """Return the reference to a quantity of a kind, or to a column of them."""
        ...

    def values(self, kind: Kind) -> dict[str, Any]:
        """Return the reference to a list of values with one unit."""
        ...

    def choice(self, field: Any) -> dict[str, Any]:
        """Return the reference to a closed set of names."""
        ...

    def items(self, field: Any, *, batch: bool) -> dict[str, Any]:
        """Return the reference to one item of a list."""
        ...

    def section(self, field: Any) -> dict[str, Any]:
        """Return the reference to a section's request."""
        ...

    def pattern(self, kind: Kind) -> str:
        """Return the regular expression of a quantity written as text."""
        ...

    def text(self, kind: Kind) -> dict[str, Any]:
        """Return the reference to a quantity written as text."""
        ...


class Structs(Protocol):
    """Returns the reader of a struct."""

    def __call__(self, struct: type[Any], /) -> StructReads:
        """Return the reader of a struct."""
        ...


class Description:
    """A contract's description of a field; one subclass per kind."""

    doc: str

    def reader(self, name: str, default: Any, hint: Any, structs: Structs) -> "Field":
        """Return the reader of a request's field.

        Raises
        ------
        TypeError
            The description does not fit the field's type, or is for answers only.
        """
        del default, structs
        raise TypeError(f"field {name!r} of {hint!r}: {self!r} does not describe a request field")

    def answer_field(self, name: str, hint: Any, *, optional: bool) -> AnswerField:
        """Return what an answer's field is."""
        return AnswerField(name, self.doc, optional, schema=msgspec.json.schema(hint))


class Field:
    """Reads one field, and describes what it accepts.

    Attributes
    ----------
    name : str
        Its name.
    note : Description
        The contract's description of it.
    default : any
        In SI; MISSING where the field is required.
    default_text : str, optional
        The default as a caller would write it.
    control : str
        Kind of control on the web page.
    placeholder : str
        Placeholder of a value in the help of the command line.
    names : tuple of str
        The only values it takes, where these are names.
    repeats : bool
        Whether a query can repeat it.
    varies : bool
        Whether rows of a batch can differ in it.
    """

    __slots__ = ("default", "default_text", "name", "note")

    control: str
    placeholder = "NAME"
    names: tuple[str, ...] = ()
    repeats = False
    varies = False

    def __init__(self, name: str, default: Any, note: Any) -> None:
        self.name = name
        self.note = note
        self.default = default
        self.default_text = str(default).lower() if isinstance(default, (str, bool)) else None

    @property
    def doc(self) -> str:
        """Meaning."""
        return self.note.doc

    @property
    def required(self) -> bool:
        """Whether it must be given."""
        return self.default is MISSING

    @property
    def limits(self) -> str:
        """What it accepts, in words; can be empty."""
        return ""

    @property
    def allowed(self) -> str | list[str] | None:
        """What would be accepted, as a fault names it."""
        return self.limits or None

    @property
    def example(self) -> Any:
        """A value that shows how to write it, or None."""
        return getattr(self.note, "example", None)

    @property
    def structs(self) -> Sequence[StructReads]:
        """Readers of the structs inside."""
        return ()

    def read(self, given: Any, at: str, reading: Reading) -> Any:
        """Read a value; None and a fault where it cannot be read."""
        raise NotImplementedError

    def help(self) -> list[str]:
        """Return sentences on what it takes, for the command line."""
        return []

    def template_notes(self) -> list[str]:
        """Return sentences on what it takes, for a file to fill in."""
        return self.help()

    def described(self) -> dict[str, Any]:
        """Return what the control on the web page needs in addition to name, meaning and default."""
        return {}

    def schema(self, refs: Refs, *, batch: bool) -> dict[str, Any]:
        """Return its JSON Schema."""
        raise NotImplementedError

    def query_schema(self, refs: Refs) -> dict[str, Any]:
        """Return its JSON Schema and description as a parameter of a query."""
        del refs
        return {"schema": {"type": "string"}, "description": self.doc}

    def query_text(self, value: Any) -> Any:
        """Return an example value as written in a query."""
        return value if isinstance(value, bool) else str(value)

    def annotation(self, alias: "Alias", *, batch: bool) -> str:
        """Return its type in the client's signatures.

        Parameters
        ----------
        alias : callable
            Returns the name of the type of a closed set of names, and the request type of a calculation.
        batch : bool
            Whether it is for a call over columns.
        """
        raise NotImplementedError

    def with_default(self, text: str) -> str:
        """Return a text with the default added.

        In words: with a schema's default, generated clients demand the field, or send it unasked, and the answer could
        no longer show which defaults were used.
        """
        return f"{text} Default: {self.default_text}." if self.default_text else text


class Alias(Protocol):
    """Names types in the client's signatures."""

    def names(self, names: tuple[str, ...]) -> str:
        """Return the name of the type of a closed set of names."""
        ...

    def request(self, path: str) -> str:
        """Return the name of the request type of a calculation."""
        ...


def strip_none(hint: Any) -> tuple[Any, bool]:
    """Return a type without None, and whether None was in it."""
    if get_origin(hint) in {Union, types.UnionType}:
        rest = [arg for arg in get_args(hint) if arg is not type(None)]
        if len(rest) < len(get_args(hint)):
            return (rest[0] if len(rest) == 1 else Union[tuple(rest)]), True  # noqa: UP007 - built at run time
    return hint, False


def members_of(hint: Any) -> list[type[Any]]:
    """Return the struct types of a union, or of one type, without their type arguments."""
    members = get_args(hint) if get_origin(hint) in {Union, types.UnionType} else (hint,)
    return [get_origin(member) or member for member in members]
