"""Chlorine: shock chlorination, feed, contact time and retest."""
