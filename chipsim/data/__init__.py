"""Tables shipped with the library.

woods.csv (species) and sources.csv (where each block of values was read); literature.csv (statements of studies and the
trade) and model_draws.csv (what they leave of the failure model's prior).
"""
