"""What people write, turned into values."""
