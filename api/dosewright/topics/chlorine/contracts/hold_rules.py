"""Contract of the published rules for concentration and hold time."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import N
from dosewright.engine.fields import Choice, Flag, Measure, Text
from dosewright.tables.names import ChlorinationRule

__all__ = ["ChlorinationRuleName", "PublishedRule", "RuleUse"]

ChlorinationRuleName: TypeAlias = Literal[ChlorinationRule, "none"]
RuleUse: TypeAlias = Literal["wells", "house_plumbing", "mains", "tanks"]


class PublishedRule(msgspec.Struct, Generic[N], kw_only=True):
    """One step of a published rule: its requirement, and whether it decides."""

    rule: Annotated[str, Text("Name of the rule in requests.")]
    use: Annotated[RuleUse, Choice("What it is written for.")]
    free_chlorine: Annotated[N, Measure("concentration", "Least free chlorine of this step.")]
    hold_time: Annotated[N | None, Measure("time", "Time to hold it; absent where none was seen.")]
    decides: Annotated[bool, Flag("Whether the answer follows this rule.")]
    reason: Annotated[str | None, Text("Why it decides, or why not.")]
    source: Annotated[str, Text("Where it is published.")]
