"""What the trial was: fish, place, methods, rules, and where every fry went. No result yet."""
