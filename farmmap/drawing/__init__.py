"""Painting a scene with QPainter, on screen and paper alike; no widgets."""
