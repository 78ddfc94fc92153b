"""Whether the assumed water layer decides, which layer would change that, and which measurement would narrow it."""

from types import SimpleNamespace
from typing import Any

import numpy as np

from dosewright.core.arrays import Array
from dosewright.engine.notes import Notes
from dosewright.topics.uv.unit.rated_points import Supported
from dosewright.topics.uv.unit.steps import Steps
from dosewright.topics.uv.unit.water_layer import SIZES, Chambers, WaterShares, unmixed_share, with_layer

__all__ = ["warn_deciding_layer"]

_MM, _INCH = 1e-3, 25.4
_STEPS = 3
_LENGTHS = 2e-3  # by which the share can be lower in a shorter chamber than in the longest
_OPTICS = (
    *(*SIZES, "uvt", "water_layer", "outside_diameter", "outside_length", "field_model", "sleeve_transmittance"),
    *("sleeve_wall", "wall_reflectance", "n_air", "n_quartz", "n_water"),
)


def warn_deciding_layer(
    ask: Any, at: Supported, chambers: Chambers | None, shares: WaterShares, lower: Steps, darker: Any, notes: Notes
) -> None:
    """Warn that the layer is assumed, and name the layer up to which the peak flow would be covered."""
    if chambers is None or chambers.exact or not np.any(darker):
        return
    _warn_unknown(ask, darker, notes)
    if ask.peak_flow is None:
        return
    capped = ask.peak_flow > at.fastest * ask.units_in_parallel
    short = np.logical_and(darker, np.logical_and(lower.flow < ask.peak_flow, np.logical_not(capped)))
    if not np.any(short):
        return
    needed = shares.worst_unmixed * (ask.peak_flow / lower.flow)
    passing = np.full(np.shape(short), np.nan)
    passing[short] = _thickest_passing(
        _rows(ask, short),
        *(_picked(one, short) for one in (at.lowest_uvt, chambers.least, chambers.most, shares.worst_unmixed, needed)),
    )
    turns = np.isfinite(passing)
    assumed = np.ceil(chambers.most / _MM - 1e-9)
    pairs = np.stack(np.broadcast_arrays(assumed, passing), axis=-1)
    turns = np.broadcast_to(turns, pairs.shape[:-1])
    for most, pass_at in np.unique(pairs[turns], axis=0):
        message = (
            f"The assumed water layer of {most:.0f} mm decides this; {pass_at:.0f} mm or less "
            f"({np.floor(100.0 * pass_at / _INCH) / 100.0:.2f} in) would pass. Measure the layer with a caliper and "
            "enter water_layer."
        )
        here = turns & (pairs[..., 0] == most) & (pairs[..., 1] == pass_at)
        notes.warn("water_layer_decides", "covers_peak_flow", message, when=here[()])


def _warn_unknown(ask: Any, darker: Any, notes: Notes) -> None:
    if ask.chamber_bore is not None:
        message = (
            "The sleeve is unknown, so the flow is an interval over the common range of sleeves. Its lower bound "
            "decides. The sleeve's outer diameter, or the water layer measured with a caliper, would narrow it."
        )
    elif ask.outside_diameter is not None:
        message = (
            "The water layer is unknown, so the flow is an interval over the layers that walls and sleeves of common "
            "sizes leave in this outside diameter. Its lower bound decides. The layer measured with a caliper, "
            "entered as water_layer, would narrow it."
        )
    else:
        message = (
            "The chamber is unknown, so the flow is an interval over the water layers of common chambers up to 4 in "
            "(102 mm) wide outside. Its lower bound decides. A wider chamber does worse: enter its "
            "outside_diameter, which also narrows the interval, or the water_layer measured with a caliper."
        )
    notes.warn("water_layer_assumed", "water_layer", message, when=darker)


def _picked(value: Any, rows: Any) -> Any:
    """Return the values of some rows."""
    return np.broadcast_to(value, np.shape(rows))[rows] if np.ndim(rows) else np.asarray(value)


def _rows(ask: Any, rows: Any) -> Any:
    """Return what the light in the water depends on, of some rows."""
    of_rows: dict[str, Any] = {name: getattr(ask, name) for name in _OPTICS}
    picked: dict[str, Any] = {name: _picked(one, rows) if np.ndim(one) else one for name, one in of_rows.items()}
    return SimpleNamespace(**picked)


def _thickest_passing(ask: Any, rated_uvt: Any, least: Any, most: Any, share_at_most: Any, needed: Any) -> Any:
    """Return the thickest layer in whole millimetres with this share of the dose; NaN where there is none [mm].

    The logarithm of the share is nearly straight over the layer: regula falsi, then a check of the layer found.
    """
    required: Array = np.asarray(np.log(needed * (1.0 + _LENGTHS)))
    low: Array = np.asarray(least, np.float64)
    high: Array = np.asarray(most, np.float64)
    layer: Array = low
    at_low: Array = np.log(_share(ask, rated_uvt, low))
    at_high: Array = np.asarray(np.log(share_at_most))
    passes = at_low >= required
    for _ in range(_STEPS):
        layer = low + (high - low) * np.clip((at_low - required) / (at_low - at_high), 0.0, 1.0)
        here: Array = np.log(_share(ask, rated_uvt, layer))
        enough = here >= required
        low, at_low = np.where(enough, layer, low), np.where(enough, here, at_low)
        high, at_high = np.where(enough, high, layer), np.where(enough, at_high, here)
    whole: Array = np.floor(layer / _MM) * _MM
    checked = passes & (whole >= least) & (np.log(_share(ask, rated_uvt, np.maximum(whole, least))) >= required)
    return np.where(checked, np.round(whole / _MM), np.nan)


def _share(ask: Any, rated_uvt: Any, layer: Array) -> Array:
    """Return the share in the longest chamber with each layer."""
    single = layer.ndim == 0
    size, rated = (float(layer), float(rated_uvt)) if single else (layer, rated_uvt)
    return np.asarray(unmixed_share(with_layer(ask, size)[:1], ask.uvt, rated))
