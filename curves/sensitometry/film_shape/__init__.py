"""The shape of films' curves: how likely it makes a table of readings, and a count of steps that went wrong."""
