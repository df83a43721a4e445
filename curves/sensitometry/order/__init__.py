"""Readings in the wrong place: found by how likely each order of them is, and told in words."""
