"""The places of the window, one task each."""
