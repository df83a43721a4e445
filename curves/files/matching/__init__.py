"""Densities that a densitometer read of some patches, and a strip that is matched by them."""
