"""Calibration: from conductance to force, and the profile that belongs to one mat."""
