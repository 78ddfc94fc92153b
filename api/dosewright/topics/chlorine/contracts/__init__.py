"""Requests and answers of the chlorine calculations."""
