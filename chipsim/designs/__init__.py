"""Designs as other programs have them, read as paths."""
