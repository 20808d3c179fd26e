"""What was separately given a method, what the log can show of it, and how far words may go."""
