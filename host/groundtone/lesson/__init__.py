"""Lesson: what the golfer and the coach look at afterwards."""
