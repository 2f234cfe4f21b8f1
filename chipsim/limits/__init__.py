"""What machine, bit and wood allow: limits, time, width, forces, thin lands, breakouts."""
