"""Which lines to quilt."""
