"""Runs a calculation: read, check, compute, write. The one road for the service, the client in process and scripts."""

import copy
import datetime as dt
from collections.abc import Collection, Iterator, Mapping
from contextvars import ContextVar
from typing import Any, cast

import msgspec
import numpy as np

from dosewright.core.arrays import OutsideModelError
from dosewright.engine.base import Answer, Request, as_mapping
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.fields import MISSING
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.section import RawSection, SectionField, sections_of
from dosewright.engine.fields.unread import UNREAD, UnknownValueError
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.writing import AnswerUnits, not_finite, unit_faults, units_for
from dosewright.quantities import UnitProfile

__all__ = ["answer", "check_fields", "compute", "describe", "quieten", "refuse_faults", "run", "run_si"]

_LONGEST_QUESTION = 2048
_LONGEST_WHOLE_QUESTION = 8000  # what servers and proxies commonly take
_QUESTION_ROOT = "/v1/"
_ABOUT_UNITS = frozenset({"units", "answer_units"})
_quiet: ContextVar[bool] = ContextVar("quiet", default=False)


def run(path: str, request: Request | Mapping[str, Any]) -> Any:
    """Answer one request by the calculation's path.

    Parameters
    ----------
    path : str
        Topic and name, e.g. ``pipe/velocity``.
    request : Request or mapping
        The request, as its contract type or as plain data.

    Returns
    -------
    Answer
        The calculation's answer type, in the requested units.

    Raises
    ------
    KeyError
        No calculation has this path.
    RequestRefused
        With every fault found.
    """
    return answer(find(path), request)


def answer(
    entry: Calculation[Any, Any],
    request: Request | Mapping[str, Any],
    *,
    query: bool = False,
    profile: UnitProfile | None = None,
) -> Any:
    """Answer one request.

    Parameters
    ----------
    entry, request
        The calculation, and the request as its contract type or as plain data.
    query : bool
        Whether all values are texts from an address.
    profile : {"us", "metric", "si"}, optional
        Units of the answer, which override those of the request; its bare numbers are still read by its own profile.
    """
    raw = as_mapping(request) if isinstance(request, Request) else request
    reading = Reading(query=query)
    ask = reader_for(entry.request).read(raw, "/", reading)
    given, notes = run_si(entry, ask, reading)
    units = units_for(entry.answer, profile or reading.profile, None if profile else ask.answer_units)
    units.apply(given)
    describe(entry, ask, given, notes, reading, units)
    return given


def run_si(entry: Calculation[Any, Any], request: Any, reading: Reading | None = None) -> tuple[Any, Notes]:
    """Run a calculation in SI, from typed request to typed answer.

    Parameters
    ----------
    entry, request
        The calculation, and its request with every quantity in SI and every default filled in, as its reader returns
        it. Quantities can be arrays.
    reading : Reading, optional
        What was noted while the request was read: its faults are reported together with those of the checks.

    Returns
    -------
    tuple of (Answer, Notes)
        The answer in SI, without what all answers share, which :func:`describe` adds; and its notes.

    Raises
    ------
    RequestRefused
        With every fault found.
    """
    notes = Notes()
    if reading is None:
        reading = Reading()
    notes.take_words(reading)
    refuse_faults(entry, request, reading, notes)
    given = compute(entry, request, notes)
    if notes.faults:
        raise RequestRefused(fault for fault, _ in notes.faults)
    return given, notes


def describe(
    entry: Calculation[Any, Any], ask: Any, given: Answer, notes: Notes, reading: Reading, units: AnswerUnits
) -> None:
    """Add to an answer what all answers share: units, warnings, methods, what was understood, its question."""
    given.units = {**units.symbols, **notes.units} if notes.units else units.symbols
    given.inputs = inputs_of(ask)
    given.inputs.update(notes.inputs)
    given.warnings = [warning for warning, _ in notes.warnings]
    given.cautions = notes.cautions
    given.basis = notes.basis
    given.defaults = reading.defaults
    given.defaults.update(notes.defaults)
    question = f"{_QUESTION_ROOT}{entry.path}?{'&'.join(notes.query_parameters + reading.query_parameters)}"
    longest = _LONGEST_QUESTION if entry.batch else _LONGEST_WHOLE_QUESTION
    given.question = question if len(question) <= longest else None


def compute(entry: Calculation[Any, Any], ask: Any, notes: Notes) -> Answer:
    """Run the body; an overflow is detected in the result, or rejected here where Python's own floats raise.

    Raises
    ------
    RequestRefused
        An operation had no finite result, or a core function is not defined for a value that no check had caught.
    """
    try:
        if _quiet.get():
            return entry.body(ask, notes)
        with np.errstate(all="ignore"):
            return entry.body(ask, notes)
    except (ZeroDivisionError, OverflowError):
        raise RequestRefused([not_finite("The answer")]) from None
    except OutsideModelError as outside:
        # A net below the checks, so that a caller gets a fault in any case; a check would have named the field.
        message = f"Outside the model: {outside}."
        raise RequestRefused([Fault(pointer="", code="outside_model", message=message)]) from None


def quieten() -> None:
    """Make numpy report nothing in this context and in those copied from it, as every body requires.

    For a process that does nothing else: it avoids doing so at each call, which costs as much as reading a quantity.
    """
    np.seterr(all="ignore")
    _quiet.set(True)


def refuse_faults(entry: Calculation[Any, Any], ask: Any, reading: Reading, notes: Notes) -> None:
    """Run the checks whose fields could be read, then raise if the request as a whole has a fault.

    Raises
    ------
    RequestRefused
        With every fault found.
    """
    check_fields(entry, ask, reading, notes)
    if reading.faults:
        raise RequestRefused([*reading.faults, *_faults_of_sections(entry, ask, sound=not notes.faults)])


def check_fields(entry: Calculation[Any, Any], ask: Any, reading: Reading, notes: Notes) -> None:
    """Add to the faults of reading those of the checks between fields; computes nothing."""
    if ask.answer_units:
        reading.faults.extend(unit_faults(entry.answer, ask.answer_units))
    _run_checks(entry, ask, notes)
    if notes.faults:
        # A value that could not be read has one fault: a check treats it as sent and must not add another.
        texts = {fault.pointer for fault in reading.faults}
        own = (fault for fault, when in notes.faults if when is True or not _is_rows(when))
        reading.faults.extend(fault for fault in own if fault.pointer not in texts)


def _run_checks(entry: Calculation[Any, Any], ask: Any, notes: Notes) -> None:
    """Run every check; one that needs a value which could not be read ends there, and its faults up to there count."""
    for check in entry.checks:
        try:  # noqa: SIM105 - every request passes here, and a context costs more than a check
            check.test(ask, notes)
        except UnknownValueError:
            pass


def _is_rows(when: Any) -> bool:
    return bool(getattr(when, "ndim", 0))


def _faults_of_sections(entry: Calculation[Any, Any], ask: Any, *, sound: bool) -> Iterator[Fault]:
    """Run the sections of a request that is invalid anyway, so that their faults come in the same answer."""
    fields = [field for field in reader_for(entry.request).fields if isinstance(field, SectionField)]
    if not fields:
        return
    unread = [field for field in fields if _holds_unread(getattr(ask, field.name))]
    known = _without_unread(entry, ask, unread) if sound else None
    alone = fields
    if known is not None:
        try:
            compute(entry, known, Notes())
            alone = unread
        except RequestRefused as refused:
            yield from refused.faults
            alone = unread
        except UnknownValueError:
            pass
    for field in alone:
        for place, section in sections_of(field, getattr(ask, field.name)):
            for fault in _faults_of_section(find(field.calculation), section, field.shared, ask.units):
                if fault.code != "required" or fault.pointer[1:] not in field.shared:
                    yield msgspec.structs.replace(fault, pointer=f"/{place}{fault.pointer}")


def _without_unread(entry: Calculation[Any, Any], ask: Any, unread: list[SectionField]) -> Any:
    """Return a request in which each value that could not be read is at its default.

    None where some of it is required, or sections take it from here: these then run alone.
    """
    known = copy.copy(ask)
    fields = reader_for(entry.request).fields
    taken = {name for field in fields if isinstance(field, SectionField) for name in field.shared}
    for field in fields:
        if getattr(ask, field.name) is UNREAD or field in unread:
            # Sections that take an unreadable value from here would be held against another than the caller's.
            if field.default is MISSING or (field not in unread and field.name in taken):
                return None
            setattr(known, field.name, field.default)
    return known


def _holds_unread(value: Any) -> bool:
    return value is UNREAD or (isinstance(value, list) and any(one is UNREAD for one in cast("list[Any]", value)))


def _faults_of_section(
    entry: Calculation[Any, Any], section: RawSection, shared: Collection[str], profile: UnitProfile | None
) -> list[Fault]:
    """Read one section by itself and run the checks whose fields are known; compute it where it shares nothing."""
    raw = section.raw if profile is None else {"units": profile, **section.raw}
    unknown = [name for name in shared if section.raw.get(name) is None]
    if not unknown:
        try:
            answer(entry, raw, query=section.query)
        except RequestRefused as refused:
            return list(refused.faults)
        return []
    inner, notes = Reading(query=section.query), Notes()
    ask = reader_for(entry.request).read(raw, "/", inner)
    for name in unknown:
        setattr(ask, name, UNREAD)
    _run_checks(entry, ask, notes)
    of_sections = _faults_of_sections(entry, ask, sound=not notes.faults)
    return [*inner.faults, *(fault for fault, _ in notes.faults), *of_sections]


def inputs_of(struct: Any) -> dict[str, Any]:
    """Return what was understood, in SI, without what was not given."""
    found: dict[str, Any] = {}
    config = struct.__struct_config__
    if config.tag is not None:
        found["kind"] = config.tag
    for name in struct.__struct_fields__:
        value = getattr(struct, name)
        if value is None or name in _ABOUT_UNITS:
            continue
        if type(value) is float or type(value) is str:
            found[name] = value
        elif not _holds_sections(value):  # a section is described by its own answer
            found[name] = _understood(value)
    return found


def _holds_sections(value: Any) -> bool:
    return isinstance(value, RawSection) or (isinstance(value, list) and isinstance(value[0], RawSection))


def _understood(value: Any) -> Any:
    """Return what was understood of a field that is neither a number nor a name."""
    if isinstance(value, msgspec.Struct):
        return inputs_of(value)
    if isinstance(value, (list, tuple)):
        entries = cast("list[Any]", value)
        return [inputs_of(entry) if isinstance(entry, msgspec.Struct) else entry for entry in entries]
    return value.isoformat() if isinstance(value, dt.date) else value
