"""A raw-water test to start from."""

from __future__ import annotations

# An invented well whose water is within every limit.
GOOD: dict[str, str | float] = {
    "water_source": "drilled_well",
    "uvt": "90 %",
    "iron": "0.1 mg/L",
    "manganese": "0.01 mg/L",
    "hardness": "4 gpg",
    "tannin": "0 mg/L",
    "turbidity": 0.3,
    "ph": 7.4,
    "total_dissolved_solids": "200 mg/L",
    "hydrogen_sulfide": "0 mg/L",
    "total_coliform": "0 CFU/100mL",
    "e_coli": "0 MPN/100mL",
    "nitrate_nitrogen": "1 mg/L",
    "lead": "0.001 mg/L",
    "copper": "0.1 mg/L",
    "arsenic": "0.001 mg/L",
    "fluoride": "0.3 mg/L",
    "uranium": "0.001 mg/L",
    "sulfate": "30 mg/L",
}
