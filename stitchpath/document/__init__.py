"""A design as a text that is changed bit by bit, as the planning page does."""
