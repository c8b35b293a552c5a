"""The printed guide, and the path at true size, as PDF."""
