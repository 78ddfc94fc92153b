"""Puts calculations together: each section runs as its own calculation, so no number is computed twice.

A composed calculation declares its sections as data (:class:`Part`), asks them through one :class:`Composer`, works
with their answers in SI, and has them written once at the end.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar, cast

import msgspec

from dosewright.engine.base import Caution, Request, as_mapping
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.known import Known
from dosewright.engine.fields.section import RawSection
from dosewright.engine.fields.unread import UNREAD
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import Calculation, find
from dosewright.engine.run import describe, run_si
from dosewright.engine.writing import AnswerUnits, units_for
from dosewright.quantities import UnitProfile

__all__ = ["Composer", "Part", "Ran", "in_si"]

S = TypeVar("S")


@dataclass(frozen=True, slots=True)
class Part(Generic[S]):
    """One section of a composed calculation, as data.

    Attributes
    ----------
    name : str
        Its name in the request and in the answer.
    calculation : str
        Path of the calculation it asks.
    request : callable, optional
        Returns what the section asks, from what the sections before it answered: a typed request in SI, or values in SI
        by field for what a caller's own section leaves out. Absent where the section takes nothing from elsewhere.
    """

    name: str
    calculation: str
    request: Callable[[S], Request | Mapping[str, Any]] | None = None


@dataclass(slots=True)
class Ran:
    """One section that was run.

    Attributes
    ----------
    entry : Calculation
        The request.
    request : Request
        The typed request, in SI.
    answer : Answer
        The answer: its numbers in SI until it is written, its texts as they will be.
    notes : Notes
        Other notes of the calculation.
    reading : Reading
        What was noted while the request was read.
    units : AnswerUnits
        The units that the answer will be written in.
    """

    entry: Calculation[Any, Any]
    request: Any
    answer: Any
    notes: Notes
    reading: Reading
    units: AnswerUnits


class Composer:
    """Asks the sections of one request.

    Attributes
    ----------
    ran : dict of str to Ran
        The sections that were run, in order; in a list, with the number after a slash.
    faults : list of Fault
        What is wrong with any of them, pointers starting at the section.
    requested : list of str
        The sections' own parameters, as the whole request's question has them.
    lacking : dict of str to list of str
        Fields that a section takes from elsewhere and that were missing: it did not run, and has no fault.
    """

    def __init__(self, profile: UnitProfile | None) -> None:
        self.profile = profile
        self.ran: dict[str, Ran] = {}
        self.faults: list[Fault] = []
        self._of_taken: list[Fault] = []
        self.query_parameters: list[str] = []
        self.lacking: dict[str, list[str]] = {}
        # What was read of sections at fault, for those that share their values.
        self._read: dict[str, tuple[Any, Reading]] = {}

    def ask_part(self, part: Part[S], state: S, given: RawSection | Sequence[RawSection] | None) -> Any:
        """Ask a declared section, or each of its list.

        Parameters
        ----------
        part : Part
            The section.
        state : any
            What its request is made from.
        given : RawSection, or sequence of them, optional
            The caller's own section; its values replace those of the request.

        Returns
        -------
        Answer, list of Answer or None, or None
            As :meth:`ask` returns them.
        """
        request: Request | Mapping[str, Any] = {} if part.request is None else part.request(state)
        if isinstance(given, Sequence):
            return [
                self.ask(f"{part.name}/{number}", part.calculation, one, request) for number, one in enumerate(given)
            ]
        return self.ask(part.name, part.calculation, given, request)

    def ask(self, section: str, path: str, given: RawSection | None, request: Request | Mapping[str, Any]) -> Any:
        """Ask one section.

        Parameters
        ----------
        section : str
            Name of the section; in a list, with its number after a slash.
        path : str
            Calculation it asks.
        given : RawSection or None
            The caller's own section; None where there is none.
        request : Request or mapping
            A typed request in SI, or values in SI by field, for what the caller's section omits. None means
            not known. A mapping alone is not a question.

        Returns
        -------
        Answer or None
            In SI. None if the section is not given, has faults (which are kept), or lacks what is taken from
            elsewhere.
        """
        if given is None:
            if not isinstance(request, Request):
                return None
            given = RawSection({}, query=False)
        shared = as_mapping(request) if isinstance(request, Request) else request
        if given.ran is not None and not shared:
            return self._keep(section, given.ran, {})
        taken = {
            name: in_si(value) for name, value in shared.items() if value is not None and given.raw.get(name) is None
        }
        raw: dict[str, Any] = {**given.raw, **taken}
        if self.profile is not None and raw.get("units") is None:
            raw["units"] = self.profile
        entry, reading = find(path), Reading(query=given.query)
        ask = reader_for(entry.request).read(raw, "/", reading)
        self._read[section] = ask, reading
        try:
            answer, notes = run_si(entry, ask, reading)
            units_for(entry.answer, "si", None).apply(answer)  # not a number counts as absent from here on
        except RequestRefused as refused:
            self._keep_faults(section, refused, taken, shared)
            if section in self.lacking:
                # It did not run, but it is part of the question all the same.
                self._keep_question(section, reading.query_parameters, taken)
            return None
        units = units_for(entry.answer, reading.profile, ask.answer_units)
        describe(entry, ask, answer, notes, reading, units)
        return self._keep(section, Ran(entry, ask, answer, notes, reading, units), taken)

    def _keep(self, section: str, ran: Ran, taken: Mapping[str, Any]) -> Any:
        self.ran[section] = ran
        self._keep_question(section, [*ran.notes.query_parameters, *ran.reading.query_parameters], taken)
        return ran.answer

    def _keep_faults(
        self, section: str, refused: RequestRefused, taken: Mapping[str, Any], shared: Mapping[str, Any]
    ) -> None:
        for fault in refused.faults:
            name = fault.pointer[1:].partition("/")[0]
            if fault.code == "required" and shared.get(name, fault) is None:
                self.lacking.setdefault(section, []).append(name)
                continue
            # Faults of values taken from elsewhere are reported there; here only if nothing else is wrong.
            kept = self._of_taken if name in taken else self.faults
            kept.append(msgspec.structs.replace(fault, pointer=f"/{section}{fault.pointer}"))

    def _keep_question(self, section: str, requested: Sequence[str], taken: Mapping[str, Any]) -> None:
        # A field's parameters are its name with a value, or with a point and the fields within.
        omitted = tuple(f"{name}{end}" for name in (*taken, "units") for end in "=.")
        place = section.replace("/", ".")
        self.query_parameters.extend(
            f"{place}.{parameter}" for parameter in requested if not parameter.startswith(omitted)
        )

    def value(self, section: str, field: str) -> Known | None:
        """Return a quantity of a section's request, to be shared; None if it was not given or has a fault."""
        if section not in self._read:
            return None
        ask, reading = self._read[section]
        value = getattr(ask, field)
        if value is None or value is UNREAD:
            return None
        if field in reading.printed:
            return Known(value, reading.printed[field].plain)
        start = f"{field}="
        return Known(value, next((one[len(start) :] for one in reading.query_parameters if one.startswith(start)), ""))

    def take_fault(self, section: str, code: str) -> str | None:
        """Take back a section's only fault, if it is of this kind, and return its message."""
        of_section = [fault for fault in self.faults if fault.pointer.startswith(f"/{section}/")]
        if [fault.code for fault in of_section] != [code]:
            return None
        self.faults.remove(of_section[0])
        return of_section[0].message

    def refuse_faults(self) -> None:
        """Raise if any section has a fault.

        Raises
        ------
        RequestRefused
            With the faults of all sections.
        """
        if self.faults or self._of_taken:
            raise RequestRefused(self.faults or self._of_taken)

    def cautions(self) -> list[Caution]:
        """Return the cautions of all sections, each once."""
        found: dict[str, Caution] = {}
        for ran in self.ran.values():
            found.update((caution.code, caution) for caution in ran.answer.cautions if caution.code not in found)
        return list(found.values())

    def add_to_notes(self, notes: Notes, *, carried: bool = True) -> None:
        """Give the sections' warnings, cautions, inputs, defaults and parameters to the whole request's notes.

        With `carried` the whole answer contains the sections' own answers, so it names their units too.
        """
        for section, ran in self.ran.items():
            given = ran.answer
            name, _, number = section.partition("/")
            if number:
                notes.inputs.setdefault(name, []).append(given.inputs)
            else:
                notes.inputs[name] = given.inputs
            if carried:
                notes.units.update({f"{name}.{field}": unit for field, unit in given.units.items()})
            place = section.replace("/", ".")
            notes.defaults.update({f"{place}.{field}": text for field, text in given.defaults.items()})
            for warning in given.warnings:
                notes.warn(warning.code, f"{place}.{warning.field}", warning.message)
        notes.caution(*(caution.code for caution in self.cautions()))
        notes.query_parameters.extend(self.query_parameters)

    def write(self) -> None:
        """Bring the sections' answers into their units, in place: the last step, once nothing computes with them.

        Raises
        ------
        RequestRefused
            A number is not finite in its unit.
        """
        faults: list[Fault] = []
        for section, ran in self.ran.items():
            try:
                ran.units.apply(ran.answer)
            except RequestRefused as refused:
                faults += (msgspec.structs.replace(fault, pointer=f"/{section}") for fault in refused.faults)
        if faults:
            raise RequestRefused(faults)


def in_si(value: Any) -> Any:
    """Mark the numbers of a typed value as SI, whatever the unit profile of the section that takes them."""
    if type(value) is float or type(value) is int:
        return Known(float(value))
    if isinstance(value, msgspec.Struct):
        value = as_mapping(value)
    if isinstance(value, Mapping):
        return {name: in_si(inner) for name, inner in cast("Mapping[str, Any]", value).items()}
    if isinstance(value, (list, tuple)):
        return [in_si(inner) for inner in cast("Sequence[Any]", value)]
    return value
