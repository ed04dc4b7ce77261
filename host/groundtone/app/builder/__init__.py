"""The builder's commands: what can be computed, the firmware onto the board, commissioning."""
