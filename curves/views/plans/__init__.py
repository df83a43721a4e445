"""Plans in words: what to set, what to expect, what to keep, what to beware of."""
