"""Densities of a scan matched to those of a densitometer, by patches that both have read."""
