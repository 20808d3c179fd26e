"""Words: numbers (and names), comparisons, remarks (limits that several answers share), blocks."""
