"""What to set: options, sweeps, layouts, recommendations."""
