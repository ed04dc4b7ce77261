"""From placements to curves: the fit engine, the forms of a curve, creep and hysteresis."""
