"""Several strips of one film: one curve, one index, and whether the strips agree."""
