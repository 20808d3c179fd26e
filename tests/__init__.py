"""Tests of rearkit."""
