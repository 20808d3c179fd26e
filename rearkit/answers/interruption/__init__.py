"""What did an interruption cost? Deaths a fry-day before and after, and what else was going on."""
