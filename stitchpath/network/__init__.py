"""From lines to the graphs that are routed."""
