"""Transmittance of the water over any path."""

from typing import Any

from dosewright.core.constants import CENTIMETRE
from dosewright.core.light import dose
from dosewright.engine.base import Basis
from dosewright.engine.notes import Notes
from dosewright.engine.registry import calculation
from dosewright.quantities import Numbers
from dosewright.topics.uv.contracts.water import (
    TransmittanceAnswer,
    TransmittanceRequest,
)

__all__ = ["transmittance"]

_LN_10 = 2.302585092994045684
_MEASURES = ("transmittance", "absorbance", "absorption_coefficient")

_BEER_LAMBERT = Basis(
    method="absorption coefficient = -ln(transmittance)/path = ln 10 x absorbance/path",
    source="Beer-Lambert law, definitions",
    validity="clear or filtered samples; turbidity scatters light and is measured as absorption",
)


@calculation(
    "uv/transmittance",
    request=TransmittanceRequest,
    answer=TransmittanceAnswer,
    summary="Transmittance and absorbance of water, over any path and to base 10 or base e",
    example={"transmittance": "75 %", "path_length": "4 cm", "other_path_length": "30 mm"},
)
def transmittance(ask: TransmittanceRequest[Numbers], notes: Notes) -> TransmittanceAnswer[Numbers]:
    """Convert a transmittance, absorbance or absorption coefficient at 254 nm to 1 cm and to any other path.

    An absorbance is to base 10, as photometers show it. The absorption coefficient of the field models is to base e,
    2.303 times as large.
    """
    notes.add_basis(_BEER_LAMBERT)
    coefficient: Numbers
    if ask.transmittance is not None:
        coefficient = dose.absorption_coefficient(ask.transmittance, ask.path_length)
    elif ask.absorbance is not None:
        coefficient = ask.absorbance * _LN_10 / ask.path_length
    else:
        given: Any = ask.absorption_coefficient
        coefficient = given
    per_centimetre = dose.transmittance(coefficient, CENTIMETRE)
    message = (
        "UVT is below 1 % per cm. Was a share entered as a percentage (0.75 for 75 %), or a base e value as base 10?"
    )
    notes.warn("insufficient_light", "uvt", message, when=per_centimetre < 0.01)
    message = "The path is not 1 cm. Other calculations need the UVT from this answer, which is per centimetre."
    notes.warn("path_not_one_centimetre", "path_length", message, when=abs(ask.path_length - CENTIMETRE) > 1e-9)
    notes.caution("local_rules")
    return TransmittanceAnswer(
        uvt=per_centimetre,
        absorbance_per_centimetre=coefficient / _LN_10,
        absorption_coefficient=coefficient,
        transmittance=dose.transmittance(coefficient, ask.other_path_length),
        absorbance=coefficient * ask.other_path_length / _LN_10,
    )


@transmittance.check(*_MEASURES)
def _one_measure(ask: TransmittanceRequest[Numbers], notes: Notes) -> None:
    named = [name for name in _MEASURES if getattr(ask, name) is not None]
    allowed = f"one of {', '.join(_MEASURES)}"
    if not named:
        notes.refuse("required", "transmittance", f"Enter {allowed}.", allowed=allowed)
    elif len(named) > 1:
        message = f"Enter only one measure of the water. This request has {' and '.join(named)}."
        notes.refuse("more_than_one", named[1], message, allowed=allowed)
