"""Swing: phases and events."""
