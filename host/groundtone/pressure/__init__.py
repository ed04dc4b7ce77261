"""Pressure: force per foot, centre of pressure, footprint, lead share, heel-toe position."""
