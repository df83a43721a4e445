"""A process watched by its control strips: charts, limits, signals, and their usual causes."""
