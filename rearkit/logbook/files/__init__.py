"""A spreadsheet in, cells with their addresses out, bounded in size and time."""
