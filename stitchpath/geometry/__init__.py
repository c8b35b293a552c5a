"""Polylines, turns, corners, offsets, empty circles: no quilt in it."""
