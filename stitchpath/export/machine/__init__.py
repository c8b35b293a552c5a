"""Files for plotters and drawing machines."""
