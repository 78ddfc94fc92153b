"""Checked disinfection calculations for private wells: ultraviolet, chlorine and the pipework around them."""

__version__ = "0.3.0"
