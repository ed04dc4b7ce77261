"""What the pupil thinks, what they can do on purpose, and what stays."""
