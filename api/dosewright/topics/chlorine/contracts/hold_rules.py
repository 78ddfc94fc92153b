"""Contract of the published rules for concentration and hold time."""

from typing import Annotated, Generic, Literal, TypeAlias

import msgspec

from dosewright.engine.base import N
from dosewright.engine.fields import Choice, Flag, Measure, Text

__all__ = ["ChlorinationRuleName", "PublishedRule", "RuleUse"]

# The names below are kept equal to the table by test: an editor completes these, a table cannot be completed.
ChlorinationRuleName: TypeAlias = Literal[
    "san_bernardino_13_24_350",
    "california_74_81_new",
    "california_74_81_repaired",
    "maryland_26_04_04_24",
    "illinois_77_925_50",
    "michigan_325_1661",
    "north_carolina_18c_1002",
    "ontario_903",
    "montana_36_21_662",
    "mil_hdbk_1164",
    "alberta_agdex_716_a10",
    "alberta_health_50",
    "awwa_c651_continuous_feed",
    "awwa_c651_slug",
    "awwa_c651_tablet",
    "awwa_c651_tablet_cold",
    "awwa_c654",
    "awwa_c652_method_1",
    "awwa_c652_method_2",
    "awwa_c652_method_3",
    "ground_water_trust",
    "plumbing_code_610_1",
    "state_plumbing_code_10_9_2",
    "north_carolina_18c_1003",
    "ontario_building_code_7_6_2_8",
    "oregon_tank_surfaces",
    "awwa_c652_method_1_fed",
    "none",
]
RuleUse: TypeAlias = Literal["wells", "house_plumbing", "mains", "tanks"]


class PublishedRule(msgspec.Struct, Generic[N], kw_only=True):
    """One step of a published rule: what it asks for, and whether it counts."""

    rule: Annotated[str, Text("Name of the rule in requests.")]
    use: Annotated[RuleUse, Choice("What it is written for.")]
    free_chlorine: Annotated[N, Measure("concentration", "Least free chlorine of this step.")]
    hold_time: Annotated[N | None, Measure("time", "Time to hold it; absent where none was seen.")]
    counts: Annotated[bool, Flag("Whether the answer follows it.")]
    why: Annotated[str | None, Text("Why it counts, or does not unless named.")]
    source: Annotated[str, Text("Where it is published.")]
