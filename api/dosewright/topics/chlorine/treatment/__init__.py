"""Shock chlorination: product, dose, hold and steps."""
