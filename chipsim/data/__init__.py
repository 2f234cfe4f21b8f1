"""Tables shipped with the library: woods.csv (species) and sources.csv (where each block of values was read)."""
