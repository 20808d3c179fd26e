"""Cells in, typed frames out."""
