"""What a builder needs before there is a mat: calculators, drawings, parts, wiring."""
