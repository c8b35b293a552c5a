"""The finished top: blocks laid out, seams, press sides, pieces, places."""
