"""A question about velocity, as tests of the service's forms ask it."""

from dosewright.engine.registry import calculations

__all__ = ["ASKED", "JSON", "PATHS", "REQUEST"]

REQUEST = {"flow": "9 gal/min", "bore": "20 mm", "units": "us"}
ASKED = "/v1/pipe/velocity?flow=9+gal/min&bore=20+mm&units=us"
JSON = {"content-type": "application/json"}
PATHS = list(calculations())
