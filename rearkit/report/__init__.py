"""Answers in; words, pictures and pages out."""
