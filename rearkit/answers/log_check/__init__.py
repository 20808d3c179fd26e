"""Is the log fit to be asked anything? Where every fish went, and what should be settled first."""
