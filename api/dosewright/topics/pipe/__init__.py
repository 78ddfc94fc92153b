"""Pipes: peak demand, velocity, pressure loss and volume."""
