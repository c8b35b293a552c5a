"""Plan to files."""
