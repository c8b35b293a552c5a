"""SVG files made at random of all that a drawing program may write, as far as geometry goes."""

# ruff: noqa: E501 - a list

COLOURS = ("#1f3e5f", "teal", "rgb(190,40,40)", "hsl(40,60%,60%)", "#fa0", "black")
UNITS = ("", "px", "mm", "cm", "in", "pt", "pc")
PX = {"": 1, "px": 1, "mm": 96 / 25.4, "cm": 96 / 2.54, "in": 96, "pt": 96 / 72, "pc": 16}


class _Maker:
    def __init__(self, rng):
        self._rng, self._defs, self._rules, self._count = rng, [], [], 0

    def _id(self):
        self._count += 1
        return f"n{self._count}"

    def _n(self, low=0, high=200):
        return round(self._rng.uniform(low, high), 2)

    def _length(self, px):
        """The same length in any unit."""
        unit = self._rng.choice(UNITS)
        return f"{px / PX[unit]:.4f}{unit}"

    def _path(self):
        rng, n = self._rng, self._n
        d = f"M{n()} {n()}"
        for _ in range(rng.randint(1, 5)):
            d += rng.choice([
                lambda: f"L{n()},{n()}",
                lambda: f"l{n(-50, 50)} {n(-50, 50)}",
                lambda: f"H{n()}v{n(-50, 50)}",
                lambda: f"C{n()} {n()} {n()} {n()} {n()} {n()}",
                lambda: f"c{n(-60, 60)} {n(-60, 60)} {n(-60, 60)} {n(-60, 60)} {n(-60, 60)} {n(-60, 60)}",
                lambda: f"s{n(-60, 60)} {n(-60, 60)} {n(-60, 60)} {n(-60, 60)}",
                lambda: f"Q{n()} {n()} {n()} {n()}t{n(-60, 60)} {n(-60, 60)}",
                lambda: f"A{n(5, 80)} {n(5, 80)} {n(-90, 90)} {rng.randint(0, 1)} {rng.randint(0, 1)} {n()} {n()}",
                lambda: f"a{n(5, 80)} {n(5, 80)} 0 {rng.randint(0, 1)}{rng.randint(0, 1)}{n(-50, 50)} {n(-50, 50)}",
                lambda: f"zm{n(-30, 30)} {n(-30, 30)}h{n(10, 60)}v{n(10, 60)}",
            ])()  # fmt: skip
        return f'path d="{d}{rng.choice(["", "z", "Z"])}"'

    def _shape(self):
        rng, n = self._rng, self._n
        points = " ".join(f"{n()},{n()}" for _ in range(rng.randint(3, 6)))
        return rng.choice([
            self._path,
            self._path,
            lambda: f'rect x="{n()}" y="{n()}" width="{n(5, 100)}" height="{self._length(n(5, 100))}"',
            lambda: f'rect x="{n()}" y="{n()}" width="{n(20, 100)}" height="{n(20, 100)}" rx="{n(1, 15)}"',
            lambda: f'circle cx="{n()}" cy="{n()}" r="{n(3, 60)}"',
            lambda: f'ellipse cx="{n(0, 100)}%" cy="{n()}" rx="{n(3, 60)}" ry="{n(3, 60)}"',
            lambda: f'polygon points="{points}"',
            lambda: f'polyline points="{points}"',
            lambda: f'line x1="{n()}" y1="{n()}" x2="{n()}" y2="{n()}"',
        ])()  # fmt: skip

    def _transform(self):
        n = self._n
        return self._rng.choice([
            "", "", "",
            f' transform="translate({n(-30, 30)},{n(-30, 30)})"',
            f' transform="rotate({n(-90, 90)} 100 100)"',
            f' transform="scale({n(0.5, 1.5)}) translate({n(-20, 60)})"',
            f' transform="matrix({n(0.7, 1.2)} {n(-0.4, 0.4)} {n(-0.4, 0.4)} {n(0.7, 1.2)} {n(-9, 9)} 0)"',
            f' transform="translate(100 100)skewX({n(-30, 30)}) translate(-100 -100)"',
        ])  # fmt: skip

    def _style(self):
        rng = self._rng
        said = {}
        if rng.random() < 0.6:
            said["fill"] = rng.choice([*COLOURS, self._paint()])
            said["fill-rule"] = rng.choice(["evenodd", "nonzero"])
        else:
            said["fill"] = "none"
        if said["fill"] == "none" or rng.random() < 0.3:
            said["stroke"] = rng.choice(COLOURS)
            said["stroke-width"] = rng.choice(
                [f"{self._n(3, 14)}", self._length(self._n(3, 14)), "3%"]
            )
            said["stroke-linejoin"] = rng.choice(["miter", "round", "bevel"])
            said["stroke-linecap"] = rng.choice(["butt", "round", "square"])
            if rng.random() < 0.25:
                said["stroke-dasharray"] = f"{self._n(8, 30)} {self._n(8, 20)}"
                said["stroke-dashoffset"] = f"{self._n(0, 30)}"
        return said

    def _paint(self):
        name = self._id()
        self._defs.append(
            f'<linearGradient id="{name}"><stop stop-color="red"/>'
            f'<stop offset="1" stop-color="{self._rng.choice(COLOURS)}"/></linearGradient>'
        )
        return f"url(#{name})"

    def _said(self, said):
        """The same style as attributes, in one attribute, or in a class."""
        way = self._rng.random()
        css = ";".join(f"{k}:{v}" for k, v in said.items())
        if way < 0.4:
            return "".join(f' {k}="{v}"' for k, v in said.items())
        if way < 0.7:
            return f' style="{css}"'
        name = f"c{self._id()}"
        self._rules.append(f".{name}{{{css}}}")
        return f' class="{name}"'

    def _clip(self):
        if self._rng.random() < 0.8:
            return ""
        # of one shape: Chromium 1xx joins several that cross themselves by exclusive or
        name = self._id()
        self._defs.append(f'<clipPath id="{name}"><{self._shape()}/></clipPath>')
        return f' clip-path="url(#{name})"'

    def _element(self, depth):
        rng, n = self._rng, self._n
        kind = rng.random()
        if depth > 2 or kind < 0.6:
            return f"<{self._shape()}{self._said(self._style())}{self._transform()}{self._clip()}/>"
        inner = "".join(self._element(depth + 1) for _ in range(rng.randint(1, 3)))
        if kind < 0.75:
            return f"<g{self._transform()}{self._clip()}>{inner}</g>"
        align = rng.choice(["none", "xMinYMin", "xMidYMid slice", "xMaxYMid meet"])
        view = f'viewBox="0 0 {n(100, 250)} {n(100, 250)}" preserveAspectRatio="{align}"'
        place = f'x="{n(0, 60)}" y="{n(0, 60)}" width="{n(60, 150)}" height="{n(60, 150)}"'
        if kind < 0.85:
            return f"<svg {view} {place}>{inner}</svg>"
        name = self._id()
        if kind < 0.93:
            self._defs.append(f'<symbol id="{name}" {view}>{inner}</symbol>')
            return f'<use xlink:href="#{name}" {place}{self._transform()}/>'
        self._defs.append(f'<g id="{name}">{inner}</g>')
        return "".join(f'<use href="#{name}" x="{n(-40, 40)}" y="{n(-40, 40)}"/>' for _ in range(2))

    def file(self):
        body = "".join(self._element(0) for _ in range(self._rng.randint(2, 7)))
        wide, high = self._n(150, 260), self._n(150, 260)
        sized = self._rng.choice([
            f'width="{self._length(wide)}" height="{self._length(high)}"',
            f'width="{wide}" height="{high}" viewBox="0 0 200 200"',
            'viewBox="-10 -10 220 220"',
        ])  # fmt: skip
        return (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f"{sized}><style>{''.join(self._rules)}</style><defs>{''.join(self._defs)}</defs>"
            f"{body}</svg>"
        )


def any_svg(rng):
    """Make a file."""
    return _Maker(rng).file()
