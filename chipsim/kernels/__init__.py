"""Compiled kernels, numbers only: where every tooth goes, what it finds, what a model makes of it."""
