"""Puts calculations together: each section is asked as a question of its own, so no number is computed twice."""

from collections.abc import Mapping
from typing import Any

import msgspec

from dosewright.engine.base import Caution
from dosewright.engine.faults import Fault, RequestRefused
from dosewright.engine.fields.field import Reading
from dosewright.engine.fields.section import RawSection
from dosewright.engine.notes import Notes
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import find
from dosewright.engine.run import answer
from dosewright.quantities import UnitProfile

__all__ = ["Composer"]

_QUESTION = "/v1/"


class Composer:
    """Asks the sections of one request.

    Attributes
    ----------
    answers : dict of str to Answer
        What each section answered.
    faults : list of Fault
        What is wrong with any of them, pointers starting at the section.
    asked : list of str
        The sections' own parameters, as the whole request's question has them.
    given : dict of str to dict
        What each section was asked, with what was taken from elsewhere.
    lacking : dict of str to list of str
        Fields that a section takes from elsewhere and that were not there: it was not asked, and is not at fault.
    """

    def __init__(self, profile: UnitProfile | None) -> None:
        self.profile = profile
        self.answers: dict[str, Any] = {}
        self.faults: list[Fault] = []
        self._of_taken: list[Fault] = []
        self.asked: list[str] = []
        self.given: dict[str, dict[str, Any]] = {}
        self.lacking: dict[str, list[str]] = {}

    def ask(
        self,
        section: str,
        path: str,
        given: RawSection | None,
        shared: Mapping[str, Any],
        *,
        answer_profile: UnitProfile | None = None,
    ) -> Any:
        """Ask one section.

        Parameters
        ----------
        section : str
            Name of the section; in a list, with its number behind a slash.
        path : str
            Calculation it asks.
        given : RawSection or None
            The section; None where it was not given.
        shared : mapping
            Values of the fields taken from elsewhere where the section leaves them out; None for what is not known.

        answer_profile : {"us", "metric", "si"}, optional
            Units of the answer, where they are not to be those of the whole request.

        Returns
        -------
        Answer or None
            None where the section is not given, at fault (then its faults are kept), or lacks what is taken from
            elsewhere.
        """
        if given is None:
            return None
        taken = {name: value for name, value in shared.items() if value is not None and given.raw.get(name) is None}
        raw: dict[str, Any] = {**given.raw, **taken}
        if self.profile is not None and raw.get("units") is None:
            raw["units"] = self.profile
        try:
            found = answer(find(path), raw, query=given.query, profile=answer_profile)
        except RequestRefused as refused:
            for fault in refused.faults:
                name = fault.pointer[1:].partition("/")[0]
                if fault.code == "required" and shared.get(name, fault) is None:
                    self.lacking.setdefault(section, []).append(name)
                    continue
                # What was taken from elsewhere is told there; here only if nothing else is wrong.
                kept = self._of_taken if name in taken else self.faults
                kept.append(msgspec.structs.replace(fault, pointer=f"/{section}{fault.pointer}"))
            if section in self.lacking:
                # It was not asked, but it is part of the question all the same.
                reading = Reading(query=given.query)
                reader_for(find(path).request).read(raw, "/", reading)
                self._keep_question(section, f"?{'&'.join(reading.asked)}", taken)
            return None
        self.answers[section] = found
        self.given[section] = raw
        self._keep_question(section, found.question, taken)
        return found

    def _keep_question(self, section: str, question: str | None, taken: Mapping[str, Any]) -> None:
        query = (question or "").partition("?")[2]
        # A field's parameters are its name with a value, or with a point and the fields within.
        left_out = tuple(f"{name}{end}" for name in (*taken, "units") for end in "=.")
        place = section.replace("/", ".")
        kept = (parameter for parameter in query.split("&") if parameter and not parameter.startswith(left_out))
        self.asked.extend(f"{place}.{parameter}" for parameter in kept)

    def take_fault(self, section: str, code: str) -> str | None:
        """Take back a section's only fault, if it is of this kind, and return its message."""
        of_section = [fault for fault in self.faults if fault.pointer.startswith(f"/{section}/")]
        if [fault.code for fault in of_section] != [code]:
            return None
        self.faults.remove(of_section[0])
        return of_section[0].message

    def refuse_faults(self) -> None:
        """Raise if any section is at fault.

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
        for given in self.answers.values():
            found.update((caution.code, caution) for caution in given.cautions if caution.code not in found)
        return list(found.values())

    def tell(self, notes: Notes, *, carried: bool = True) -> None:
        """Give the sections' warnings, cautions, inputs, defaults and parameters to the whole request's notes.

        `carried` says that the whole answer carries the sections' own answers, so that it names their units too.
        """
        for section, given in self.answers.items():
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
        notes.asked.extend(self.asked)
