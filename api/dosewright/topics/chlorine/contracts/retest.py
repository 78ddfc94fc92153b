"""Contracts of the samples taken after a chlorination."""

from collections.abc import Mapping
from typing import Annotated, ClassVar, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import Answer, N, Q, Request
from dosewright.engine.directions import Direction, Safe, higher, lower
from dosewright.engine.fields import Items, Measure, Text, default
from dosewright.topics.chlorine.coliform import ColiformResult

__all__ = ["Coliform", "CountedSample", "RetestAnswer", "RetestRequest", "WaterSample"]

Coliform: TypeAlias = Literal["absent", "present"]


class WaterSample(msgspec.Struct, Generic[Q], kw_only=True, forbid_unknown_fields=True):
    """One sample: when it was taken, the chlorine in it, and the laboratory results."""

    taken_after: Annotated[
        Q,
        Measure("time", "Time from the end of flushing to the sample.", at_least="0 h", at_most="400 d", example="8 d"),
    ]
    coliform: Annotated[Coliform, ColiformResult("Total coliform bacteria: absent or present.", example="absent")]
    e_coli: Annotated[
        Coliform | None,
        ColiformResult(
            "E. coli: absent or present. If coliforms are present and it was not tested, it can be present."
        ),
    ] = None
    total_chlorine: Annotated[
        Q | None,
        Measure(
            "concentration",
            "Chlorine at the tap at sampling. Without it the sample is not valid: chlorine can give a false clear "
            "result.",
            at_least="0 mg/L",
            at_most="100 mg/L",
            example="0 mg/L",
        ),
    ] = None


class RetestRequest(Request, Generic[Q]):
    """Samples in the order taken, and the rule for clearing the water."""

    worse: ClassVar[Mapping[str, Direction]] = higher(
        "samples.total_chlorine first_sample_after sample_interval clear_samples"
    ) | lower("samples.taken_after chlorine_limit")
    exceptions: ClassVar[Mapping[tuple[str, str], str]] = {
        ("samples.taken_after", "refused"): "samples out of order are rejected",
    }

    samples: Annotated[list[WaterSample[Q]], Items("Samples in the order they were taken.", 1, 50)]
    raw_coliform: Annotated[
        Coliform | None,
        ColiformResult(
            "Total coliform bacteria in a sample of the raw water without chlorine, before any treatment, taken with "
            "the last sample."
        ),
    ] = None
    raw_e_coli: Annotated[Coliform | None, ColiformResult("E. coli in the same sample of the raw water.")] = None
    first_sample_after: Annotated[
        Q,
        Measure("time", "Minimum time from the end of flushing to a valid sample.", at_least="0 h", at_most="60 d"),
    ] = default("7 d")
    sample_interval: Annotated[
        Q, Measure("time", "Minimum time between two valid samples.", at_least="0 h", at_most="60 d")
    ] = default("24 h")
    clear_samples: Annotated[
        Q, Measure("plain", "Required number of consecutive clear samples.", at_least="1", at_most="10", example="2")
    ] = default("2")
    chlorine_limit: Annotated[
        Q,
        Measure(
            "concentration",
            "Chlorine above which a sample is not valid.",
            at_least="0 mg/L",
            at_most="4 mg/L",
            example="0.1 mg/L",
        ),
    ] = default("0.1 mg/L")


class CountedSample(msgspec.Struct, Generic[N], kw_only=True):
    """Result of one sample."""

    counted: Annotated[str, Text("clear, not_clear, too_early, too_soon, chlorinated or chlorine_not_measured.")]
    consecutive_clear_samples: Annotated[N, Measure("plain", "Consecutive clear samples up to this one.")]


class RetestAnswer(Answer, Generic[N]):
    """Whether the water is suitable, and when to sample next."""

    safer: ClassVar[Mapping[str, Safe]] = (
        higher("consecutive_clear_samples")
        | lower("required_samples_remaining")
        | {"verdict": ("suitable", "incomplete", "fix_first", "not_suitable")}
    )
    undirected: ClassVar[Mapping[str, str]] = {
        "the day of the next sample depends on the last one": "next_sample",
    }

    verdict: Annotated[str, Text("suitable, incomplete, fix_first or not_suitable.")]
    consecutive_clear_samples: Annotated[N, Measure("plain", "Consecutive clear samples at the end.")]
    required_samples_remaining: Annotated[N, Measure("plain", "Clear samples still required.")]
    next_sample: Annotated[
        N | None, Measure("time", "Time from the end of flushing to the next valid sample; absent if none is due.")
    ]
    samples: Annotated[list[CountedSample[N]], Items("Each sample, in the order of the request.")]
