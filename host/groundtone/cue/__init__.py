"""Cues: bands, rules and the live engine."""
