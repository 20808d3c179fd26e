"""Arrays in, results out: knows nothing of fish, files or pictures."""
