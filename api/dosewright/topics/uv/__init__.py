"""Ultraviolet disinfection: dose, derated flow, limits and what they depend on."""
