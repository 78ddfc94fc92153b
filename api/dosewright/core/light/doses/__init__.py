"""Doses of water that is not all alike: distributions, shares of them, tanks and laminar flow."""
