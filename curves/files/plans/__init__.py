"""Plans as JSON, and the tables and records that a plan is written to."""
