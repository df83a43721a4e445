"""The next exposure: the light, the camera's settings, the population of curves, the first strip."""
