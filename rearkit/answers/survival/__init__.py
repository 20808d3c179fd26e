"""Did more fry live? Survival of two methods to one day, or the fate of every batch."""
