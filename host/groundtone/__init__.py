"""groundtone: a pressure mat for golf that turns a drifting centre of pressure into a tone."""
