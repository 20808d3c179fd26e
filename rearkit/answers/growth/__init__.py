"""Did the fry grow better? Length of two methods on one day, or the growth of every batch."""
