"""The twin: a golfer, a mat and a board that exist only here. Imports nothing from the analysis rooms."""
