"""What the worker does with the frames of a mat, one way at a time."""
