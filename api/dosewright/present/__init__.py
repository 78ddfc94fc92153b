"""How answers are shown: one model, one writer per format."""
