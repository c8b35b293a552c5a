"""The plan in words and rows."""
