"""One function a calculation: a request with units in, an answer with warnings, cautions and sources out."""
