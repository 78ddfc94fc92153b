"""Light in a chamber: optics, fluence, dose and survival."""
