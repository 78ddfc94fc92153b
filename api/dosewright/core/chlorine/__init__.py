"""Chlorine in water: its chemistry, decay, contact time and feed."""
