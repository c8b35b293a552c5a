"""Free-motion and walking-foot fills of any region.

A region goes in as a shapely polygon in mm, paths come out. `styles.fill` does it all.
"""
