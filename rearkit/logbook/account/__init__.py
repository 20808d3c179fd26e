"""Where every fish of a batch went: start = alive + dead + taken out + missing."""
