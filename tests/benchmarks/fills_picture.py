"""Make the picture of the fills in the README: the page of swatches, smaller and in fewer colours.

Run it by itself: ``python tests/benchmarks/fills_picture.py pictures/fills.png``.
"""

import io
import sys

from PIL import Image

from stitchpath.export.swatches import draw_swatches
from stitchpath.told.swatches import swatch_rows

WIDTH = 920  # px
COLOURS = 48


def main(target):
    page = Image.open(io.BytesIO(draw_swatches(list(swatch_rows(0.5)), "png", "in")))
    size = WIDTH, round(page.height * WIDTH / page.width)
    small = page.convert("RGB").resize(size, Image.Resampling.LANCZOS)
    small.quantize(COLOURS).save(target, optimize=True)


if __name__ == "__main__":
    main(sys.argv[1])
