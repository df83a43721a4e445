"""Strips side by side: differences of all their numbers, and what each difference says."""
