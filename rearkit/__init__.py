"""rearkit: from a fry-rearing log to an answer you may believe."""
