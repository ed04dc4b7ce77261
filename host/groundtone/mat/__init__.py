"""The mat: where each cell lies, what the resistive network does, which cells are ill."""
