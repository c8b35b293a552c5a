"""Drawings from anywhere: read through one door, walked by the standard, taken as outlines."""
