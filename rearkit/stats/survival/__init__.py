"""Survival curves from counts."""
