"""What every room stands on: errors, units, limits, marks, and how a text is written."""
