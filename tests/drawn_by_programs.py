"""Drawings in the ways of general drawing programs, with what each is meant to be.

How such programs write: layers as groups with a label, classes in a style sheet, copies of
symbols, transforms in transforms, compound paths; in DXF inserts, bulges, splines and hatches.
"""

# ruff: noqa: E501 - a list

import io

import ezdxf
import numpy as np
from drawn import FOAM, NAVY, RED, SAND, SEA, checks, grid, group, line, path, poly, rect, svg

MADE = []
"""Name, text, and what each is meant to be."""


def made(name, text, **want):
    MADE.append((name, text, want))


def mm(body, width=300, height=300, head=""):
    return svg((f"{width}mm", f"{height}mm"), f"0 0 {width} {height}", body, head=head)


def dxf(draw, units=4):
    doc = ezdxf.new(units=units)
    draw(doc, doc.modelspace())
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue()


def triangle_pair(side, one, other, **more):
    return poly([(0, 0), (side, 0), (0, side)], fill=one, **more) + poly(
        [(side, 0), (side, side), (0, side)], fill=other, **more
    )


# layers with a label and a shift, relative paths, styles in one attribute, a hidden layer
rows = "".join(
    f'<path style="fill:{(NAVY, FOAM, SEA)[(i + j) % 3]};stroke:none;fill-opacity:1" '
    f'd="m {10 + 90 * i},{20 + 90 * j} h 90 v 90 h -90 z" id="path{830 + 3 * j + i}"/>'
    for j in range(3)
    for i in range(3)
)
made(
    "layers_with_labels",
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?><svg width="300mm" height="320mm" '
    'viewBox="0 0 300 320" id="svg5" xmlns="http://www.w3.org/2000/svg" '
    'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
    'xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd">'
    '<sodipodi:namedview id="namedview7" pagecolor="#ffffff" inkscape:document-units="mm"/>'
    '<defs id="defs2"><marker id="Arrow"><path d="M0 0L10 5L0 10z"/></marker></defs>'
    f'<g inkscape:label="Layer 1" inkscape:groupmode="layer" id="layer1" transform="translate(5,10)">{rows}</g>'
    '<g inkscape:label="Layer 2" inkscape:groupmode="layer" id="layer2" style="display:none">'
    '<path d="M0 0L300 300" style="stroke:#000;fill:none" id="path99"/></g></svg>',
    patches=9, pieces=0, quilting=0,
)  # fmt: skip

# classes numbered by the program, a page in px without a size
made(
    "numbered_classes",
    '<?xml version="1.0" encoding="utf-8"?><svg version="1.1" id="Layer_1" '
    'xmlns="http://www.w3.org/2000/svg" x="0px" y="0px" viewBox="0 0 400 400" '
    'style="enable-background:new 0 0 400 400;" xml:space="preserve"><style type="text/css">'
    ".st0{fill:#1F3E5F;}.st1{fill:#F4F1E8;stroke:#000000;stroke-miterlimit:10;}"
    ".st2{fill:none;stroke:#2F8F9F;stroke-width:2;stroke-miterlimit:10;}</style><g>"
    + "".join(
        f'<rect x="{100 * i}" y="{100 * j}" class="st{(i + j) % 2}" width="100" height="100"/>'
        for j in range(4)
        for i in range(4)
    )
    + '</g><path class="st2" d="M20,200c60-60,120,60,180,0s120-60,180,0"/></svg>',
    patches=16, pieces=0, quilting=1, ask=1,
)  # fmt: skip

# a block drawn once, turned and mirrored by transforms in transforms
pinwheel = "".join(
    group(triangle_pair(60, NAVY, FOAM), transform=f"rotate({90 * k} 60 60)") for k in range(4)
)
made(
    "transforms_in_transforms",
    mm(
        group(
            *(
                group(
                    group(pinwheel, transform="scale(1.25)"),
                    transform=f"matrix({-1 if (i + j) % 2 else 1} 0 0 1 {150 * (i + (i + j) % 2)} {150 * j})",
                )
                for i in range(2)
                for j in range(2)
            ),
            transform="translate(300 0) rotate(90)",
        )
    ),
    patches=32, pieces=0, quilting=0,
)  # fmt: skip

# a symbol with its own view, placed at a size
symbol = f'<symbol id="a" viewBox="0 0 4 4">{rect(0, 0, 4, 4, fill=FOAM)}{poly([(2, 0), (4, 2), (2, 4), (0, 2)], fill=RED)}</symbol>'
made(
    "symbols_at_a_size",
    mm(
        "".join(
            f'<use xlink:href="#a" x="{100 * i}" y="{100 * j}" width="100" height="100"/>'
            for i in range(3)
            for j in range(2)
        ),
        300, 200, head=symbol,
    ),
    patches=30, pieces=0, quilting=0,
)  # fmt: skip

# what is what stands in classes of a style sheet, dashes too
made(
    "classes_that_tell",
    mm(
        group(grid(3, 100).replace(' stroke="black"', ""), class_="seams")
        + group(path("M30 30L270 270").replace(' stroke="black"', ""), class_="quilting-lines")
        + group(path("M30 270L270 30").replace(' stroke="black"', ""), class_="quilting-lines"),
        head="<style>.seams line{stroke:#333;stroke-width:.5}"
        ".quilting-lines path{stroke:teal;stroke-dasharray:4 2;fill:none}</style>",
    ),
    patches=9, pieces=0, quilting=2,
)  # fmt: skip

# fabrics as gradients that take their colours from others
fades = "".join(
    f'<linearGradient id="c{k}"><stop offset="0" stop-color="{c}"/><stop offset="1" stop-color="#fff"/></linearGradient>'
    f'<linearGradient id="g{k}" xlink:href="#c{k}" gradientUnits="userSpaceOnUse" x2="300"/>'
    for k, c in enumerate((NAVY, RED))
)
made(
    "gradients_for_fabrics",
    mm(checks(4, 75, ("url(#g0)", "url(#g1)")), head=f"<defs>{fades}</defs>"),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip

# lines to quilt that run over the page and are clipped to the border
made(
    "clipped_to_the_border",
    mm(
        rect(0, 0, 300, 300, fill=NAVY)
        + rect(50, 50, 200, 200, fill=FOAM)
        + group(
            *(path(f"M{k} -20L{k - 340} 320", stroke="#c0392b") for k in range(60, 600, 60)),
            clip_path="url(#inner)",
        ),
        head='<clipPath id="inner"><rect x="50" y="50" width="200" height="200"/></clipPath>',
    ),
    patches=2, pieces=0, quilting=6,
)  # fmt: skip

# one compound path for each fabric
dark = "".join(f"M{75 * i} {75 * j}h75v75h-75z" for i in range(4) for j in range(4) if (i + j) % 2)
made(
    "compound_path_over_ground",
    mm(rect(0, 0, 300, 300, fill=SAND) + path(dark, fill=NAVY, stroke="none")),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip
light = "".join(
    f"M{75 * i} {75 * j}h75v75h-75z" for i in range(4) for j in range(4) if not (i + j) % 2
)
made(
    "compound_path_each",
    mm(path(light, fill=SAND, stroke="none") + path(dark, fill=NAVY, stroke="none")),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip

# a border as one ring with a hole
made(
    "border_with_a_hole",
    mm(
        path("M0 0H300V300H0ZM40 40H260V260H40Z", fill=NAVY, fill_rule="evenodd", stroke="none")
        + group(checks(2, 110, (FOAM, RED)), transform="translate(40 40)")
    ),
    patches=5, pieces=0, quilting=0,
)  # fmt: skip

# every seam as a bit of its own, all in one path
bits = "".join(
    f"M{50 * i} {50 * j}L{50 * i + 50} {50 * j}M{50 * j} {50 * i}L{50 * j} {50 * i + 50}"
    for i in range(4)
    for j in range(5)
) + "".join(f"M{50 * i} {50 * j}L{50 * i + 50} {50 * j + 50}" for i in range(4) for j in range(4))
made("bits_in_one_path", mm(path(bits), 200, 200), patches=32, pieces=0, quilting=0)

# patches drawn a little apart, each with a thin outline, on a white page
made(
    "patches_a_little_apart",
    mm(
        rect(0, 0, 340, 340, fill="#ffffff")
        + "".join(
            rect(20 + 100 * i, 20 + 100 * j, 99.6, 99.6, fill=(RED, SEA)[(i + j) % 2], stroke="#000", stroke_width=0.2)
            for i in range(3)
            for j in range(3)
        ),
        340, 340,
    ),
    patches=9, pieces=0, quilting=0,
)  # fmt: skip

# mitred borders, corner squares within, and a binding as a thick line
mitred = [
    [(0, 0), (300, 0), (260, 40), (40, 40)], [(300, 0), (300, 300), (260, 260), (260, 40)],
    [(300, 300), (0, 300), (40, 260), (260, 260)], [(0, 300), (0, 0), (40, 40), (40, 260)],
]  # fmt: skip
made(
    "mitred_border_and_binding",
    mm(
        "".join(poly(p, fill=NAVY) for p in mitred)
        + rect(40, 40, 220, 220, fill=FOAM)
        + rect(0, 0, 300, 300, fill="none", stroke=RED, stroke_width=6)
    ),
    patches=5, pieces=0, quilting=0,
)  # fmt: skip

# a wreath: leaves by use, turned about the middle, over four patches
made(
    "wreath_of_copies",
    mm(
        checks(2, 150, (FOAM, SAND))
        + group(
            *(f'<use href="#leaf" transform="rotate({30 * k} 150 150)"/>' for k in range(12)),
            id="wreath",
        ),
        head=f'<defs><path id="leaf" d="M150 40q20 25 0 50q-20 -25 0 -50z" fill="{SEA}"/></defs>',
    ),
    patches=4, pieces=12, quilting=0,
)  # fmt: skip

# a sheet with a frame, a title block, a bar for the scale and words
made(
    "sheet_with_title_block",
    mm(
        rect(5, 5, 410, 287, fill="none", stroke="#000")
        + rect(315, 262, 100, 30, fill="none", stroke="#000")
        + line(315, 272, 415, 272)
        + '<text x="320" y="270">Harbour wall</text>'
        + group(grid(4, 50), transform="translate(40 40)"),
        420, 297,
    ),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip

# one cloth with waves, all of one black
made(
    "waves_on_one_cloth",
    mm(
        rect(0, 0, 300, 200, fill="none", stroke="black")
        + "".join(path(f"M20 {y}c40 -30 80 30 120 0s80 -30 120 0") for y in range(30, 200, 35)),
        300, 200,
    ),
    patches=1, pieces=0, quilting=5,
)  # fmt: skip

# thick dark lines over the seams of filled patches, as in coloured glass
made(
    "coloured_glass",
    mm(
        poly([(0, 0), (150, 0), (100, 140), (0, 120)], fill=SEA)
        + poly([(150, 0), (300, 0), (300, 150), (100, 140)], fill=RED)
        + poly([(0, 120), (100, 140), (160, 300), (0, 300)], fill=SAND)
        + poly([(100, 140), (300, 150), (300, 300), (160, 300)], fill=FOAM)
        + path("M150 0L100 140L0 120M300 150L100 140L160 300", stroke="#111", stroke_width=5)
    ),
    patches=4, pieces=0, quilting=0,
)  # fmt: skip

# eight diamonds by use about the middle, squares and triangles round them
s = 100 * np.sqrt(0.5)
diamond = [(150, 150), (150 + 100, 150), (150 + 100 + s, 150 - s), (150 + s, 150 - s)]
far = 100 + s
round_it = "".join(
    group(
        poly([(150 + 100, 150), (150 + far, 150 - s), (150 + far, 150 + s)], fill=FOAM)
        + poly(
            [
                (150 + s, 150 - s),
                (150 + far, 150 - s),
                (150 + far, 150 - far),
                (150 + s, 150 - far),
            ],
            fill=FOAM,
        ),
        transform=f"rotate({90 * k} 150 150)",
    )
    for k in range(4)
)
made(
    "diamonds_about_a_middle",
    svg(
        ("341.421356mm", "341.421356mm"),
        f"{150 - far} {150 - far} {2 * far} {2 * far}",
        round_it
        + "".join(
            group(poly(diamond, fill=(RED, NAVY)[k % 2]), transform=f"rotate({45 * k} 150 150)")
            for k in range(8)
        ),
    ),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip

# a size in per cent alone
made(
    "size_in_per_cent",
    svg("100%", "0 0 24 24", checks(4, 6)),
    patches=16, pieces=0, quilting=0, ask=1,
)  # fmt: skip


def mirrored_inserts(doc, space):
    block = doc.blocks.new("goose")
    block.add_lwpolyline([(0, 0), (100, 0), (50, 50)], close=True)
    block.add_lwpolyline([(0, 0), (0, 50), (50, 50)], close=True)
    block.add_lwpolyline([(100, 0), (100, 50), (50, 50)], close=True)
    for k in range(4):
        space.add_blockref("goose", (0, 100 * k))
        space.add_blockref("goose", (0, 100 * k + 100), dxfattribs={"yscale": -1})
        space.add_blockref("goose", (200, 100 * k), dxfattribs={"xscale": -1})
        space.add_blockref("goose", (200, 100 * k + 100), dxfattribs={"rotation": 180})


made("dxf_mirrored_inserts", dxf(mirrored_inserts), patches=48, pieces=0, quilting=0)


def hatches(_doc, space):
    for i in range(3):
        for j in range(3):
            corners = [
                (100 * i, 100 * j),
                (100 * i + 100, 100 * j),
                (100 * i + 100, 100 * j + 100),
                (100 * i, 100 * j + 100),
            ]
            hatch = space.add_hatch(color=(1, 5, 3)[(i + j) % 3])
            hatch.paths.add_polyline_path(corners, is_closed=True)
            space.add_lwpolyline(corners, close=True)


made("dxf_hatches_with_outlines", dxf(hatches), patches=9, pieces=0, quilting=0)


def orange_peel(_doc, space):
    for k in range(4):
        space.add_line((100 * k, 0), (100 * k, 300))
        space.add_line((0, 100 * k), (300, 100 * k))
    for i in range(3):
        for j in range(3):
            a, b = np.array([100.0 * i, 100.0 * j]), np.array([100.0 * i + 100, 100.0 * j + 100])
            for bow in (30, -30):
                middle = (a + b) / 2 + np.array([bow, -bow])
                space.add_spline([(*p, 0) for p in (a, middle, b)])


made("dxf_splines", dxf(orange_peel), patches=27, pieces=0, quilting=0)


def scallops(_doc, space):
    corners = [(100 * k, 0, 0.4) for k in range(4)] + [(400, 0, 0)]
    corners += [(400, 200, 0.4)] + [(100 * k, 200, 0.4) for k in (3, 2, 1)] + [(0, 200, 0)]
    space.add_lwpolyline(corners, format="xyb", close=True)
    for k in (1, 2, 3):
        space.add_line((100 * k, 0), (100 * k, 200))


made("dxf_bulges", dxf(scallops), patches=4, pieces=0, quilting=0)


def by_colour(_doc, space):
    for k in range(5):
        space.add_line((60 * k, 0), (60 * k, 240), dxfattribs={"color": 7})
        space.add_line((0, 60 * k), (240, 60 * k), dxfattribs={"color": 7})
    space.add_circle((120, 120), 50, dxfattribs={"color": 1})
    space.add_arc((120, 120), 90, 20, 160, dxfattribs={"color": 1})
    dim = space.add_linear_dim(base=(0, -30), p1=(0, 0), p2=(240, 0))
    dim.render()
    space.add_text("240 mm", dxfattribs={"insert": (100, -40)})


made("dxf_colours_and_a_measure", dxf(by_colour), patches=16, pieces=0, quilting=2)

# nested rectangles, as lines alone
made(
    "rectangles_in_rectangles",
    mm("".join(rect(50 * k, 50 * k, 300 - 100 * k, 300 - 100 * k, fill="none", stroke="black") for k in range(3))),
    patches=3, pieces=0, quilting=0,
)  # fmt: skip

# marks for cropping and registering at the corners of a page
marks = "".join(
    line(x, y, x + dx, y) + line(x, y, x, y + dy)
    for x, dx in ((15, -10), (325, 10))
    for y, dy in ((15, -10), (325, 10))
)
made(
    "crop_marks",
    mm(group(grid(3, 100), transform="translate(20 20)") + marks, 340, 340),
    patches=9, pieces=0, quilting=0,
)  # fmt: skip

# letters turned into paths on each patch
letter = "M{0} {1}l3 9h-1.4l-.7 -2.4h-2l-.7 2.4h-1.4l3 -9zM{0} {1}m-.1 2l.6 3.2h-1.2z"
made(
    "letters_as_paths",
    mm(
        checks(3, 100, (FOAM, SAND))
        + "".join(
            path(letter.format(50 + 100 * i, 45 + 100 * j), fill="#000", stroke="none")
            for i in range(3)
            for j in range(3)
        )
    ),
    patches=9, pieces=0, quilting=0,
)  # fmt: skip

# shade over it all, nearly transparent
made(
    "shade_over_all",
    mm(checks(4, 75) + rect(0, 0, 300, 300, fill="#000", fill_opacity="0.12")),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip
made(
    "light_falls_across",
    mm(checks(4, 75) + group(poly([(0, 0), (200, 0), (0, 200)], fill="#fff"), opacity="0.2")),
    patches=16, pieces=0, quilting=0,
)  # fmt: skip

# a page of squared paper beneath
made(
    "squared_paper",
    mm(
        rect(0, 0, 400, 400, fill="url(#paper)") + group(checks(3, 100), transform="translate(50 50)"),
        400, 400,
        head='<pattern id="paper" width="5" height="5" patternUnits="userSpaceOnUse"><path d="M0 0H5M0 0V5" stroke="#9cf"/></pattern>',
    ),
    patches=9, pieces=0, quilting=0,
)  # fmt: skip

# copies of copies, as clones are written
tile = group(rect(0, 0, 60, 60, fill=FOAM) + triangle_pair(60, NAVY, FOAM), id="tile")
row = "".join(
    f'<use xlink:href="#tile" x="0" y="0" transform="translate({60 * k},0)" id="use{k}"/>'
    for k in range(1, 5)
)
made(
    "clones_of_clones",
    mm(
        group(tile + row, id="row")
        + "".join(f'<use xlink:href="#row" transform="translate(0,{60 * k})" id="u{k}"/>' for k in range(1, 5))
    ),
    patches=50, pieces=0, quilting=0,
)  # fmt: skip

# a page to be coloured in: all white, with black lines
made(
    "white_to_be_coloured",
    mm(
        "".join(
            poly([(100 * i, 100 * j), (100 * i + 100, 100 * j), (100 * i + 50, 100 * j + 100)], fill="#fff", stroke="#000")
            + poly([(100 * i, 100 * j), (100 * i + 50, 100 * j + 100), (100 * i, 100 * j + 100)], fill="#fff", stroke="#000")
            + poly([(100 * i + 100, 100 * j), (100 * i + 100, 100 * j + 100), (100 * i + 50, 100 * j + 100)], fill="#fff", stroke="#000")
            for i in range(3)
            for j in range(3)
        )
    ),
    patches=27, pieces=0, quilting=0, known=False,
)  # fmt: skip

# the ditch drawn in red over filled patches, and one line that is more
made(
    "ditch_in_red",
    mm(
        checks(3, 100)
        + group(grid(3, 100, stroke="#ff0000"))
        + path("M0 150C100 100 200 200 300 150", stroke="#ff0000")
    ),
    patches=9, pieces=0, quilting=1,
)  # fmt: skip

# a flower of an outline and a middle, drawn with lines in one patch of a seam drawing
made(
    "flower_in_lines",
    mm(
        grid(2, 150)
        + "".join(f'<ellipse cx="75" cy="45" rx="12" ry="25" fill="none" stroke="black" transform="rotate({72 * k} 75 75)"/>' for k in range(5))
        + '<circle cx="75" cy="75" r="4" fill="none" stroke="black"/>'
    ),
    patches=4, pieces=6, quilting=0,
)  # fmt: skip


def old_polylines(doc, space):
    doc.layers.add("SEWING", color=5)
    doc.layers.add("CUT", color=1)
    for i in range(3):
        for j in range(2):
            x, y = 120 * i, 120 * j
            space.add_polyline2d(
                [(x, y), (x + 120, y), (x + 120, y + 120), (x, y + 120)],
                close=True,
                dxfattribs={"layer": "SEWING"},
            )
            a, b = x - 6, y - 6
            space.add_polyline2d(
                [(a, b), (a + 132, b), (a + 132, b + 132), (a, b + 132)],
                close=True,
                dxfattribs={"layer": "CUT"},
            )


made("dxf_with_allowances", dxf(old_polylines), patches=6, pieces=0, quilting=0)


def faces(_doc, space):
    for i in range(4):
        for j in range(4):
            x, y = 80 * i, 80 * j
            space.add_3dface(
                [(x, y), (x + 80, y), (x + 80, y + 80), (x, y + 80)],
                dxfattribs={"color": 1 + (i + j) % 2},
            )


made("dxf_faces", dxf(faces), patches=16, pieces=0, quilting=0)


def solids(_doc, space):
    for i in range(4):
        x = 80 * i
        space.add_solid(
            [(x, 0), (x + 80, 0), (x, 80), (x + 80, 80)], dxfattribs={"color": 1 + i % 2}
        )
        space.add_solid([(x, 80), (x + 80, 80), (x + 40, 140)], dxfattribs={"color": 3})
    space.add_ellipse((160, 60), (60, 0), 0.5, dxfattribs={"color": 4})


made("dxf_solids", dxf(solids), patches=8, pieces=0, quilting=1)
