"""The set-up: bits, paths, wood, grain, machine, cuts, all frozen values."""
