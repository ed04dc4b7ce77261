"""The command line: it calls the rooms upstream and holds no computation."""
