"""Drawings of our own in the habits of different people, with what each is meant to be."""

# ruff: noqa: E501 - a list

import io

import ezdxf
import numpy as np

RED, NAVY, SAND, FOAM, SEA = "#c0392b", "#1f3e5f", "#e7d5b0", "#f4f1e8", "#2f8f9f"


def svg(size, box, *body, head=""):
    width, height = size if isinstance(size, tuple) else (size, size)
    sized = f'width="{width}" height="{height}"' if width else ""
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'{sized} viewBox="{box}">{head}{"".join(body)}</svg>'
    )


def rect(x, y, w, h, **more):
    return f'<rect x="{x}" y="{y}" width="{w}" height="{h}"{_more(more)}/>'


def poly(points, **more):
    return f'<polygon points="{" ".join(f"{x:g},{y:g}" for x, y in points)}"{_more(more)}/>'


def line(x1, y1, x2, y2, **more):
    more = {"stroke": "black", **more}
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"{_more(more)}/>'


def path(d, **more):
    more = {"fill": "none", "stroke": "black", **more}
    return f'<path d="{d}"{_more(more)}/>'


def _more(more):
    return "".join(f' {k.rstrip("_").replace("_", "-")}="{v}"' for k, v in more.items())


def group(*body, **more):
    return f"<g{_more(more)}>{''.join(body)}</g>"


def layer(name, *body):
    return group(*body, inkscape__groupmode="layer").replace(
        'inkscape--groupmode="layer"', f'inkscape:groupmode="layer" inkscape:label="{name}"'
    )


def grid(n, side, **more):
    lines = []
    for k in range(n + 1):
        lines += [line(k * side, 0, k * side, n * side, **more)]
        lines += [line(0, k * side, n * side, k * side, **more)]
    return "".join(lines)


def checks(n, side, colours=(NAVY, FOAM), **more):
    return "".join(
        rect(i * side, j * side, side, side, fill=colours[(i + j) % len(colours)], **more)
        for j in range(n)
        for i in range(n)
    )


def star(x, y, r):
    turn = np.arange(10) * np.pi / 5 - np.pi / 2
    far = np.where(np.arange(10) % 2, 0.45 * r, r)
    return list(zip(x + far * np.cos(turn), y + far * np.sin(turn), strict=True))


def log_cabin():
    a = 40.0
    boxes, x0, y0, x1, y1, w = [(15, 15, 10, 10)], 15, 15, 25, 25, 5
    for _ in range(3):
        boxes.append((x0, y0 - w, x1 - x0, w))
        y0 -= w
        boxes.append((x1, y0, w, y1 - y0))
        x1 += w
        boxes.append((x0, y1, x1 - x0, w))
        y1 += w
        boxes.append((x0 - w, y0, w, y1 - y0))
        x0 -= w
    body = [rect(*b, fill=(RED, SAND, NAVY, FOAM)[k % 4]) for k, b in enumerate(boxes)]
    return svg(f"{a:g}cm", "0 0 40 40", *body), {"patches": 13, "pieces": 0, "quilting": 0}


def legend_beside():
    body = checks(3, 100, stroke="black", stroke_width="0.5")
    swatches = [rect(330, 20 + 30 * k, 20, 20, fill=c) for k, c in enumerate((NAVY, FOAM))]
    words = '<text x="355" y="35">navy</text><text x="0" y="330">Harbour checks</text>'
    drawn = svg(("400mm", "340mm"), "0 0 400 340", body, *swatches, words)
    return drawn, {"patches": 9, "pieces": 0, "quilting": 0}


def boat_lines():
    edge = path("M0 0H240V240H0Z")
    seams = path("M0 170H240M120 0V170M120 20L200 150H120M120 20L50 150H120M20 170Q60 235 120 235")
    seams += path("M120 235Q180 235 220 170")
    waves = "".join(
        path(f"M0 {y}q30 -12 60 0t60 0t60 0t60 0", stroke_dasharray="3 2") for y in (185, 205)
    )
    return svg("240mm", "0 0 240 240", edge, seams, waves), {"patches": 6, "quilting": 2}


def layered_starfish():
    drawn = svg(
        "12in",
        "0 0 12 12",
        layer("Piecing", checks(2, 6)),
        layer("Applique", poly(star(6, 6, 3), fill=RED)),
    )
    return drawn, {"patches": 4, "pieces": 1, "quilting": 0}


def strips_over_ground():
    strips = [rect(0, 60 * k, 300, 60, fill=(NAVY, SAND, SEA, FOAM, RED)[k]) for k in range(5)]
    return svg("300mm", "0 0 300 300", rect(0, 0, 300, 300, fill="#999"), *strips), {
        "patches": 5, "pieces": 0, "quilting": 0,
    }  # fmt: skip


def medallion():
    body = [rect(k * 50, k * 50, 500 - 100 * k, 500 - 100 * k, fill=c)
            for k, c in enumerate((NAVY, SAND, RED, FOAM))]  # fmt: skip
    return svg("500mm", "0 0 500 500", *body), {"patches": 4, "pieces": 0, "quilting": 0}


def _dxf(units):
    doc = ezdxf.new(units=units)
    return doc, doc.modelspace()


def _text(doc):
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue()


def dxf_loose():
    doc, space = _dxf(4)
    for k in range(4):
        space.add_line((0, k * 90), (270, k * 90))
        space.add_line((k * 90, 0), (k * 90, 270))
    return _text(doc), {"patches": 9, "pieces": 0, "quilting": 0}


def dxf_layers():
    doc, space = _dxf(1)
    for name in ("SEAMS", "QUILTING"):
        doc.layers.add(name)
    space.add_lwpolyline([(0, 0), (16, 0), (16, 16), (0, 16)], close=True)
    space.add_line((8, 0), (8, 16), dxfattribs={"layer": "SEAMS"})
    space.add_line((0, 8), (16, 8), dxfattribs={"layer": "SEAMS"})
    for x, y in ((4, 4), (12, 4), (12, 12), (4, 12)):
        space.add_circle((x, y), 3, dxfattribs={"layer": "QUILTING"})
    return _text(doc), {"patches": 4, "pieces": 0, "quilting": 4}


def dxf_inserts():
    doc, space = _dxf(5)
    block = doc.blocks.new("PINWHEEL")
    block.add_lwpolyline([(0, 0), (20, 0), (20, 20), (0, 20)], close=True)
    block.add_line((0, 0), (20, 20))
    block.add_line((0, 20), (20, 0))
    for x in (0, 20, 40):
        for y in (0, 20):
            space.add_blockref("PINWHEEL", (x, y))
    return _text(doc), {"patches": 24, "pieces": 0, "quilting": 0}


def grey_construction():
    help_lines = grid(12, 25, stroke="#cccccc", stroke_width="0.3")
    ring = '<circle cx="150" cy="150" r="60" fill="none" stroke="red"/>'
    return svg("300mm", "0 0 300 300", help_lines, grid(3, 100), ring), {
        "patches": 9, "pieces": 0, "quilting": 1,
    }  # fmt: skip


def hexagons():
    r, body = 50.0, []
    turn = np.radians(60 * np.arange(6))
    centres = [(0, 0)] + [
        (r * 3**0.5 * np.cos(t), r * 3**0.5 * np.sin(t)) for t in turn + np.radians(30)
    ]
    for k, (x, y) in enumerate(centres):
        ring = [(150 + x + r * np.cos(t), 150 + y + r * np.sin(t)) for t in turn]
        body.append(poly(ring, fill=(RED, NAVY, SAND)[0 if k == 0 else 1 + k % 2], stroke="#333"))
    return svg("300mm", "0 0 300 300", *body), {"patches": 7, "pieces": 0, "quilting": 0}


def drunkard(n=4):
    body = []
    for i in range(n):
        for j in range(n):
            at, turn = f"translate({i * 80},{j * 80})", f"rotate({90 * ((i + j) % 4)} 40 40)"
            a, b = (NAVY, FOAM) if (i + j) % 2 else (FOAM, NAVY)
            body.append(group(
                path("M0 0H55A55 55 0 0 1 0 55Z", fill=a, stroke="none"),
                path("M55 0H80V80H0V55A55 55 0 0 0 55 0Z", fill=b, stroke="none"),
                transform=f"{at} {turn}",
            ))  # fmt: skip
    drawn = svg(f"{80 * n}mm", f"0 0 {80 * n} {80 * n}", *body)
    return drawn, {"patches": 2 * n * n, "pieces": 0, "quilting": 0}


def styled_copies():
    style = f"<style>.dark{{fill:{NAVY}}}.light{{fill:{FOAM}}}</style>"
    block = (
        '<defs><g id="hst"><polygon class="dark" points="0,0 75,0 0,75"/>'
        '<polygon class="light" points="75,0 75,75 0,75"/></g></defs>'
    )
    body = [
        f'<use xlink:href="#hst" transform="translate({75 * i},{75 * j}) '
        f'rotate({90 * (i % 2 + 2 * (j % 2))} 37.5 37.5)"/>'
        for i in range(4)
        for j in range(4)
    ]
    return svg("300mm", "0 0 300 300", style, block, *body), {
        "patches": 32,
        "pieces": 0,
        "quilting": 0,
    }


def binding_stroke():
    edge = rect(0, 0, 400, 400, fill="none", stroke=RED, stroke_width="6")
    return svg("406mm", "-3 -3 406 406", checks(4, 100), edge), {
        "patches": 16, "pieces": 0, "quilting": 0,
    }  # fmt: skip


def white_quilting():
    waves = [path(f"M0 {y}q50 -30 100 0t100 0t100 0", stroke="white") for y in (75, 150, 225)]
    return svg("300mm", "0 0 300 300", checks(3, 100, (NAVY, SEA)), layer("quilting", *waves)), {
        "patches": 9, "pieces": 0, "quilting": 3,
    }  # fmt: skip


def short_ends():
    rng = np.random.default_rng(4)
    body = [path("M0 0H360V360H0Z")]
    for k in range(1, 6):
        a, b, c, d = rng.uniform(0.1, 0.8, 4)
        body.append(line(60 * k, a, 60 * k, 360 - b) + line(c, 60 * k, 360 - d, 60 * k))
    return svg("360mm", "0 0 360 360", *body), {"patches": 36, "pieces": 0, "quilting": 0}


def pixels():
    drawn = svg(("800", "800"), "0 0 800 800", checks(4, 200))
    return drawn, {"patches": 16, "pieces": 0, "quilting": 0, "ask": "size"}


def two_blocks():
    one, other = checks(3, 50), group(checks(3, 50), transform="translate(200,0)")
    return svg(("350mm", "150mm"), "0 0 350 150", one, other), {"refuse": "apart"}


def whole_cloth():
    rings = [f'<circle cx="200" cy="200" r="{r}" fill="none" stroke="#444"/>'
             for r in (60, 90, 120, 150)]  # fmt: skip
    return svg("400mm", "0 0 400 400", rect(0, 0, 400, 400, fill=SAND), *rings), {
        "patches": 1, "pieces": 0, "quilting": 4,
    }  # fmt: skip


def lone_heart():
    heart = path("M50 85C10 55 20 25 50 40C80 25 90 55 50 85Z")
    return svg("300mm", "0 0 300 300", grid(3, 100), heart), {
        "patches": 9, "pieces": 1, "quilting": 0,
    }  # fmt: skip


def on_point():
    body = [path("M0 0H400V400H0Z")]
    for k in (100, 200, 300, 400, 500, 600, 700):
        a, b = max(0, k - 400), min(400, k)
        body.append(line(a, b, b, a) + line(a, 400 - b, b, 400 - a))
    return svg("400mm", "0 0 400 400", *body), {"patches": 40, "pieces": 0, "quilting": 0}


def painted_geese():
    body = []
    for k in range(6):
        y = 60 * k
        body.append(rect(0, y, 120, 60, fill=FOAM))
        body.append(poly([(0, y + 60), (60, y), (120, y + 60)], fill=NAVY))
    return svg(("120mm", "360mm"), "0 0 120 360", *body), {
        "patches": 18,
        "pieces": 0,
        "quilting": 0,
    }


def leaf_and_vein():
    leaf = path("M60 150Q150 40 240 150Q150 260 60 150Z", fill=SEA, stroke="none")
    vein = path("M80 150H220", stroke="#0a4040")
    return svg("300mm", "0 0 300 300", rect(0, 0, 300, 300, fill=FOAM), leaf, vein), {
        "patches": 1, "pieces": 1, "quilting": 1,
    }  # fmt: skip


OWN = [
    log_cabin, legend_beside, boat_lines, layered_starfish, strips_over_ground, medallion,
    dxf_loose, dxf_layers, dxf_inserts, grey_construction, hexagons, drunkard, styled_copies,
    binding_stroke, white_quilting, short_ends, pixels, two_blocks, whole_cloth, lone_heart,
    on_point, painted_geese, leaf_and_vein,
]  # fmt: skip
"""Each gives the text of a drawing and what it is meant to be."""


MORE = []
"""More of them, drawn when the rules stood: name, text, and what each is meant to be."""


def case(name, text, **want):
    MORE.append((name, text, want))


def page(body, width=300, height=300):
    return svg((f"{width}mm", f"{height}mm"), f"0 0 {width} {height}", body)


case(
    "same_black",
    page(
        checks(3, 100, stroke="black")
        + path("M20 50Q50 20 80 50")
        + path("M120 150Q150 120 180 150")
    ),
    patches=9,
    quilting=2,
)
case(
    "sash_over",
    page(
        "".join(
            rect(x, y, 140, 140, fill=c)
            for (x, y), c in zip(
                [(0, 0), (160, 0), (0, 160), (160, 160)], [NAVY, RED, SEA, SAND], strict=True
            )
        )
        + rect(140, 0, 20, 300, fill=FOAM)
        + rect(0, 140, 300, 20, fill=FOAM)
    ),
    patches=7,
    pieces=0,
)
case(
    "backdrop",
    page(
        rect(0, 0, 300, 300, fill=FOAM)
        + "".join(rect(x, y, 80, 80, fill=NAVY) for x in (20, 110, 200) for y in (20, 110, 200))
    ),
    patches=10,
    pieces=0,
)
case(
    "star_on_ground",
    page(rect(0, 0, 300, 300, fill=FOAM) + poly(star(150, 150, 100), fill=RED)),
    patches=1,
    pieces=1,
)
case(
    "thick_edge",
    page(
        rect(2, 2, 296, 296, fill="none", stroke="black", stroke_width=4)
        + line(100, 2, 100, 298)
        + line(200, 2, 200, 298)
    ),
    patches=3,
    quilting=0,
)
case(
    "red_seams",
    page(
        "".join(
            line(k * 100, 0, k * 100, 300, stroke="red")
            + line(0, k * 100, 300, k * 100, stroke="red")
            for k in range(4)
        )
        + path("M50 50L250 250")
        + path("M250 50L50 250")
    ),
    patches=9,
    quilting=2,
)
case(
    "crosshatch",
    page(
        rect(0, 0, 300, 300, fill="none", stroke="black")
        + line(150, 0, 150, 300)
        + line(0, 150, 300, 150)
        + "".join(
            line(k, 0, 0, k, stroke="blue") + line(300 - k, 300, 300, 300 - k, stroke="blue")
            for k in range(30, 301, 30)
        )
    ),
    patches=4,
    quilting=20,
)
case(
    "inner_allow",
    page(grid(3, 100) + rect(6, 6, 288, 288, fill="none", stroke="black", stroke_dasharray="3 3")),
    patches=9,
    quilting=1,
)
case(
    "dims",
    page(
        checks(3, 80)
        + line(0, 250, 240, 250, stroke="black")
        + line(0, 245, 0, 255)
        + line(240, 245, 240, 255)
        + '<text x="100" y="260">24 cm</text>'
    ),
    patches=9,
    quilting=0,
)
case(
    "hidden",
    page(checks(3, 100) + group(path("M0 50H300"), style="display:none")),
    patches=9,
    quilting=0,
)
case(
    "ring",
    page(
        rect(0, 0, 300, 300, fill=FOAM)
        + '<path d="M150 50a100 100 0 1 0 .1 0ZM150 100a50 50 0 1 0 .1 0Z" fill-rule="evenodd" fill="#c00"/>'
    ),
    patches=1,
    pieces=1,
)
case(
    "boat_app",
    page(
        rect(0, 0, 300, 200, fill="#acf")
        + rect(0, 200, 300, 100, fill=NAVY)
        + poly([(100, 190), (200, 190), (180, 230), (120, 230)], fill=RED)
        + poly([(145, 60), (145, 180), (90, 180)], fill=FOAM)
        + poly([(155, 60), (155, 180), (210, 180)], fill=SAND)
    ),
    patches=2,
    pieces=3,
)
case("one_path", page(path("M0 0H300V300H0ZM100 0V300M200 0V300M0 100H300M0 200H300")), patches=9)
for apart in (0.4, 1.0):
    patches = [
        rect(
            i * 100 + apart / 2, j * 100 + apart / 2, 100 - apart, 100 - apart,
            fill=(NAVY, FOAM)[(i + j) % 2],
        )
        for i in range(3)
        for j in range(3)
    ]  # fmt: skip
    case(f"gaps of {apart:g}", page("".join(patches)), patches=9)
case(
    "squares",
    page(
        "".join(
            rect(i * 100, j * 100, 100, 100, fill="none", stroke="black")
            for i in range(3)
            for j in range(3)
        )
    ),
    patches=9,
    pieces=0,
)
case(
    "generic",
    page(
        layer("Layer 1", checks(3, 100))
        + layer("Layer 2", path("M0 50Q150 0 300 50", stroke="#00f"))
    ),
    patches=9,
    quilting=1,
)
case(
    "white_fill",
    page(
        "".join(
            rect(i * 100, j * 100, 100, 100, fill="white", stroke="black")
            for i in range(3)
            for j in range(3)
        )
    ),
    patches=9,
)
case("image", page('<image width="300" height="300" href="x.png"/>' + grid(3, 100)), patches=9)
case(
    "page_lines",
    page(
        rect(0, 0, 300, 300, fill="#fff")
        + '<g transform="translate(30 30)">'
        + grid(3, 80)
        + "</g>"
    ),
    patches=9,
    quilting=0,
)
case(
    "page_frame",
    page(
        rect(0, 0, 300, 300, fill="none", stroke="black")
        + '<g transform="translate(30 30)">'
        + checks(3, 80)
        + "</g>"
    ),
    patches=9,
    quilting=0,
)
case(
    "frame_lines",
    page(
        rect(1, 1, 298, 298, fill="none", stroke="#888")
        + '<g transform="translate(30 30)">'
        + grid(3, 80)
        + "</g>"
    ),
    patches=9,
    quilting=0,
)
case(
    "loops",
    page(
        grid(3, 100)
        + "".join(
            f'<circle cx="{50 + 100 * i}" cy="{50 + 100 * j}" r="30" fill="none" stroke="black" stroke-dasharray="2 2"/>'
            for i in range(3)
            for j in range(3)
        )
    ),
    patches=9,
    quilting=9,
)
case(
    "rail",
    page(
        "".join(
            rect(
                100 * i + (33.333 * k if (i + j) % 2 else 0),
                100 * j + (0 if (i + j) % 2 else 33.333 * k),
                33.333 if (i + j) % 2 else 100,
                100 if (i + j) % 2 else 33.333,
                fill=(NAVY, RED, SAND)[k],
            )
            for i in range(3)
            for j in range(3)
            for k in range(3)
        )
    ),
    patches=27,
)
case(
    "snail",
    page(
        path("M0 0H300V300H0Z")
        + path(
            "M150 0A150 150 0 0 1 300 150A150 150 0 0 1 150 300A150 150 0 0 1 0 150A150 150 0 0 1 150 0"
        )
    ),
    patches=5,
)
case(
    "motif_word",
    page(
        checks(2, 150)
        + group(path("M75 75a40 40 0 1 0 .1 0Z", fill=RED, stroke="none"), id="starfish-motif")
    ),
    patches=4,
    pieces=1,
)
case(
    "binding_word",
    page(
        checks(2, 150) + rect(0, 0, 300, 300, fill="none", stroke=RED, stroke_width=5, id="binding")
    ),
    patches=4,
    quilting=0,
)
case(
    "two_pages_note",
    page(layer("Notes", path("M10 10H290")) + layer("Quilt top", checks(3, 100))),
    patches=9,
    quilting=0,
)
