"""Writes a blank or pre-filled log and the dictionary of its columns."""
