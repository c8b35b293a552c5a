"""What could go wrong, and the cures."""
