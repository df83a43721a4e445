"""The next exposure: what could be done, what it would tell, and how much an interval would shrink."""
