"""Lines through the middle of a piece."""
