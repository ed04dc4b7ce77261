"""The coach's window: five places named by task, one worker that owns the link, one desk for long work."""
