"""Sections of a record that say where its strip comes from: the plan before it, the densities that match its scan."""
