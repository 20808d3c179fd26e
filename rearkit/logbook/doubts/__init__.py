"""Everything that may be said about a log."""
