"""stitchpath plans the quilting of a small quilt."""
