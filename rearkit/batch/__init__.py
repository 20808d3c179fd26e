"""One batch or container: its fate, its growth; one source for every such number."""
