"""Pages of paper, and the one way they are written as PDF."""
