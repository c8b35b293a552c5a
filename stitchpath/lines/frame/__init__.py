"""A quilt in a frame: what it shows at a time, and where it is rolled on."""
