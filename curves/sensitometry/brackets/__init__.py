"""Brackets of frames: judged by eye, and planned."""
