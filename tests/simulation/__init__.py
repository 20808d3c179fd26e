"""Trials with a known truth, written as log files, read by the kit, and its sentences counted."""
