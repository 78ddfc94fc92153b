"""Contracts of the emergency disinfection of a small volume of water with household bleach."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Choice, Flag, Items, Measure, Text

__all__ = ["Clarity", "EmergencyAnswer", "EmergencyLimit", "EmergencyRequest", "EmergencyStep"]

Clarity: TypeAlias = Literal["clear", "cloudy"]


class EmergencyRequest(Request, Generic[Q], kw_only=True):
    """A small volume of water, how clear it is, and the bleach available."""

    worse: ClassVar[Mapping[str, Direction]] = higher("volume altitude") | lower("bleach_strength water_temperature")

    volume: Annotated[
        Q,
        Measure("volume", "Water to disinfect: a litre, a gallon, a bucket.", at_least="0.2 L", at_most="200 L",
                example="1 gal"),
    ]  # fmt: skip
    bleach_strength: Annotated[
        Q,
        Measure("share", "Present weight percent of sodium hypochlorite (NaOCl). For fresh bleach, as on the label.",
                at_least="0.1 %", at_most="20 %", example="6 %"),
    ]  # fmt: skip
    clarity: Annotated[
        Clarity, Choice("How the water looks after settling and filtering through a cloth.", example="clear")
    ]
    water_temperature: Annotated[
        Q | None,
        Measure("temperature", "Temperature of the water. Without it: very cold.", at_least="0 degC",
                at_most="50 degC", example="18 degC"),
    ] = None  # fmt: skip
    altitude: Annotated[
        Q | None,
        Measure("length", "Height above sea level, for the boiling time. Without it, the longer time is used.",
                at_least="-430 m", at_most="6000 m", example="250 m"),
    ] = None  # fmt: skip
    chemicals_suspected: Annotated[bool, Flag("Whether fuel, pesticides or other chemicals can be in the water.")] = (
        False
    )


class EmergencyStep(msgspec.Struct, Generic[N], kw_only=True):
    """One step of the disinfection."""

    step: Annotated[str, Text("Name of the step.")]
    action: Annotated[str, Text("What to do.")]
    duration: Annotated[N | None, Measure("time", "Duration of the step.")] = None


class EmergencyLimit(msgspec.Struct, kw_only=True):
    """A hazard that bleach does not remove."""

    hazard: Annotated[str, Text("What stays in the water.")]
    reason: Annotated[str, Text("What that means.")]


class EmergencyAnswer(Answer, Generic[N]):
    """Bleach to add, how long to wait, and what bleach does not remove."""

    safer: ClassVar[Mapping[str, Safe]] = lower("drops bleach_volume quarter_teaspoons wait_time boil_time")
    undirected: ClassVar[Mapping[str, str]] = {
        "changes up and down as the drops are rounded up": "dose",
        "a constant": "repeat_wait_time drop_volume",
    }

    drops: Annotated[N, Measure("plain", "Drops of bleach, rounded up to whole ones.")]
    quarter_teaspoons: Annotated[
        N | None, Measure("plain", "Quarter teaspoons, rounded up; absent if one is far too much.")
    ]
    bleach_volume: Annotated[N, Measure("small_volume", "The drops as a volume.")]
    drop_volume: Annotated[N, Measure("small_volume", "Volume of one drop.")]
    dose: Annotated[N, Measure("concentration", "Chlorine that the drops add.")]
    wait_time: Annotated[N, Measure("time", "Time to wait before drinking the water.")]
    repeat_wait_time: Annotated[
        N, Measure("time", "Time to wait after a second dose, if the water does not smell of chlorine.")
    ]
    boil_time: Annotated[N, Measure("time", "Boiling time. Boiling is better than bleach.")]
    steps: Annotated[list[EmergencyStep[N]], Items("What to do, in order.")]
    not_removed: Annotated[list[EmergencyLimit], Items("What stays in the water.")]
