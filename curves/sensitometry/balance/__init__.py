"""A correction for scans of a film, from its own strip."""
