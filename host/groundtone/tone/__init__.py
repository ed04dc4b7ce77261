"""Tone: synthesis and the player."""
