"""Frozen records of what the book says. They hold values and places; they compute nothing."""
