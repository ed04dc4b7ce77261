"""Record: every session as it happens (MCAP), and the library of golfers and their sessions (SQLite)."""
