"""Numbers and names in words, and what several answers say."""
