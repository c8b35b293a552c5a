"""SVG at true size."""
