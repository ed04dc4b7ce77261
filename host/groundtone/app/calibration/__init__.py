"""The commands that calibrate a mat and check it before a lesson."""
