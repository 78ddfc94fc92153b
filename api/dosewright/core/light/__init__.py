"""Light in a chamber: optics, fluence, dose and what survives it."""
