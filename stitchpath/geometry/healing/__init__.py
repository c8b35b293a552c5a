"""Loose lines to the faces that they are meant to enclose."""
