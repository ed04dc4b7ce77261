"""The check before a lesson, and its history."""
