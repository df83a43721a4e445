"""Brackets of frames: the index by eye, the roll to expose, and the sheet to print."""
