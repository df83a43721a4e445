"""Strips of which one condition was varied, in words, in the terminal and on a page."""
