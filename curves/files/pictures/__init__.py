"""Pictures: read behind one gate, and written again with a correction."""
