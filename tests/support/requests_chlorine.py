"""A feed pump, as tests of the chemistry of chlorine ask of it."""

__all__ = ["FEED"]

FEED = {
    "flow": "30 L/min",
    "free_chlorine": "1 mg/L",
    "chlorine_demand": "2 mg/L",
    "product": {"kind": "liquid", "trade_strength": "12 %"},
    "solution_strength": "6 g/L",
    "tank_volume": "100 L",
    "pump_capacity": "60 mL/min",
    "daily_volume": "1000 L",
}
