"""Spreadsheet in, tidy frames out."""
