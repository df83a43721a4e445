"""Measurements of the fit and of start-up: `python -m tests.bench`. They are read by people and never pass or fail."""
