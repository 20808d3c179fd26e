"""Every sheet and column of a log, declared once."""
