"""Random tops: whole designs that try every key, made from a seed, the same on every machine.

`random_top` mixes all that a design can say; `crossing_top` lays pieces with edge lines, echoes and
lines through their middles over seams and strokes, so that much meets at glancing angles or all but
lies over each other; `heaped_top` lays several pieces of one size over each other, hair by hair.
"""

import json
import math
from random import Random

COLOURS = {"sand": "#e7d5b0", "sea": "#2f6f9f", "coral": "#dc6f50", "foam": "white"}
FABRICS = [*COLOURS]
LIBRARY = {
    "sailboat": ["sail", "hull", "sea", "sky"],
    "attic windows": ["view", "frame", "sill"],
}
STYLES = ["parallel", "crosshatch", "rings", "spiral", "meander", "waves", "loops"]
THREADS = ["grey", "red", "blue"]


def random_top(seed):
    """Write a design of all sorts."""
    dice = Random(seed)
    scale = dice.choice([0.4, 1, 1, 1, 2.5]) * 100  # mm, side of a block
    if dice.random() < 0.25:
        scale = dice.choice([18.542, 43.78, 101.6, 152.4])
    text = _head(dice, f"top {seed}")
    names, blocks = _blocks(dice, scale)
    text += blocks
    framed = dice.random() < 0.2
    text += _layout(dice, names, scale)
    for k in range(dice.choice([0, 0, 1, 1, 1, 2, 3])):
        text += _piece(dice, k, scale, names)
    text += _lines(dice, scale)
    for k in range(dice.choice([0, 0, 1, 1, 2])):
        text += _fill(dice, k, scale, names)
    return text + _threads(dice) + _rest(dice, scale, framed)


def crossing_top(seed):
    """Write a design of pieces over seams and over each other."""
    dice = Random(10_000_019 * (seed + 1))
    scale = dice.choice([30.0, 76.2, 101.6, 203.2, dice.uniform(20, 210)])
    text = _head(dice, f"crossing {seed}")
    grid = dice.choice([["sand"], ["sand sea", "sea sand"], ["sand/sea sea\\sand"], ["sand sea"]])
    text += f"[blocks.p]\nsize = {scale!r}\ngrid = {json.dumps(grid)}\n"
    text += f"[layout]\nrows = {json.dumps([dice.choice(['p p', 'p p:90', 'p:m p'])] * 2)}\n"
    outline = _outline(dice)
    first = dice.uniform(0.2, 0.7) * scale
    for k in range(dice.choice([1, 1, 2, 2, 3])):
        # A second piece of the same kind, turned or moved by next to nothing.
        near = dice.choice([0, 0, 0.001, 0.01, 0.05, 0.3, 2])
        keys = {
            "name": f"x{k}",
            "outline": outline if dice.random() < 0.7 else _outline(dice),
            "on": dice.choice(["p", "A1", "top"]),
            "size": round(first * dice.choice([1, 1, 1.0001, 1.01, 0.5]), 4),
            "turn": dice.choice([0, 0, 0.001, 0.5, 45, 90, round(dice.uniform(-360, 360), 3)]),
            "fused": dice.choice(["before", "before", "after"]),
            "fabric": dice.choice(FABRICS),
            "cut_ditch": dice.random() < 0.4,
            "cut_fill": dice.random() < 0.4,
            "edge_line": dice.choice([True, True, 0.1, 3.175, round(scale / 40, 3)]),
        }
        if dice.random() < 0.6:
            beyond = scale / 2 if keys["on"] == "p" else scale  # over the seam between blocks
            middle = dice.choice([scale / 2, beyond, round(dice.uniform(0.4, 0.6) * scale, 3)])
            keys["at"] = [round(middle + near, 4), round(middle - near, 4)]
        keys |= _stroke_keys(dice, scale)
        text += _table("[[applique]]", keys)
    if dice.random() < 0.4:
        keys = {
            "region": dice.choice(["p", "ground", "rest"]),
            "style": dice.choice(STYLES),
            "spacing": round(scale / dice.uniform(3, 9), 3),
            "inset": dice.choice([0, 0, 0.01, 2]),
            "angle": dice.choice([0, 45, 30, 0.01, 89.999]),
        }
        text += _table("[[fills]]", keys)
    if dice.random() < 0.3:
        text += f"[route]\nretrace = {json.dumps(dice.choice(['never', 'ditch', 'allowed']))}\n"
    return text


def heaped_top(seed):
    """Write a design of pieces in a heap, with echoes through each other."""
    dice = Random(77 * seed + 5)
    scale = dice.choice([25.4, 50.0, 101.6, 152.4])
    thirds = ["sand sea coral", "sea coral sand", "coral sand sea"]
    grid = dice.choice([thirds, ["sand/sea"], ["sand"], ["sea/sand sand/sea"]])
    text = _head(dice, f"heap {seed}") + _table("[blocks.p]", {"size": scale, "grid": grid})
    text += _table("[layout]", {"rows": ["p p", "p p"]})
    if dice.random() < 0.5:
        border = {"width": scale / dice.choice([4, 10, 100]), "fabric": "sea"}
        text += _table("[[layout.borders]]", border)
    base = round(dice.uniform(0.15, 0.45) * scale, 3)
    for k in range(dice.randint(2, 4)):
        text += _heaped_piece(dice, k, scale, base)
    keys = {"ditch": dice.choice(["all", "none", "blocks"]), "feature": ["coral"]}
    keys |= {"edge_line": dice.choice([0.2, 0.11, 1.588])}
    keys |= {"echo": {"step": dice.choice([0.4, 1.588]), "count": 2}}
    text += _table("[lines]", keys)
    for _ in range(dice.randint(0, 2)):
        keys = {
            "region": dice.choice(["rest", "ground", "p"]),
            "style": dice.choice(["parallel", "crosshatch", "rings", "waves", "spiral"]),
            "spacing": round(scale / dice.choice([5, 8.0001, 12]), 4),
            "inset": dice.choice([0, 0, 0.001, 0.05]),
            "angle": dice.choice([0, 0.001, 45, 44.999, 90, 26.565]),
        }
        text += _table("[[fills]]", keys)
    if dice.random() < 0.4:
        text += _table("[batting]", {"margin": dice.choice(["0", "0.1 mm", "2 in"])})
    return text


def _heaped_piece(dice, k, scale, base):
    middle = scale / 2
    keys = {
        "name": f"q{k}",
        "outline": _outline(dice),
        "on": "A1",
        "size": base * dice.choice([1, 1, 0.999, 0.7]),
        "turn": dice.choice([0, 0, 0.01, 180, 30]),
        "fused": "before",
        "fabric": "coral",
        "at": [
            middle + dice.choice([0, 0, 0.01, 0.1, base / 2, base]),
            middle + dice.choice([0, 0, 0.02, base / 2]),
        ],
        "cut_ditch": dice.random() < 0.3,
        "cut_fill": dice.random() < 0.3,
        "edge_line": dice.choice([0.3, 1.5, base / 12]),
        "centre": dice.random() < 0.7,
        "tip": dice.choice([0, 0.5, 1.5]),
    }
    if dice.random() < 0.6:
        step = dice.choice([0.5, 1.588, base / 8])
        keys["echo"] = {"step": step, "count": dice.randint(1, 5)}
    if dice.random() < 0.4:
        keys["out_and_back"] = dice.choice([True, 0.1, 0.11, 0.2])
    if dice.random() < 0.3:
        keys["corner"] = "mitre"
    return _table("[[applique]]", keys)


def _head(dice, name):
    text = f'name = "{name}"\nunit = "mm"\n[fabrics]\n'
    return text + "".join(f'{k} = "{v}"\n' for k, v in COLOURS.items()) + dice.choice(["", "\n"])


def _table(head, keys):
    return f"{head}\n" + "".join(f"{k} = {_value(v)}\n" for k, v in keys.items())


def _value(value):
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + " }"
    return json.dumps(value)


def _cell(dice):
    one, two = dice.choice(FABRICS), dice.choice(FABRICS)
    return one if dice.random() < 0.5 else one + dice.choice("/\\") + two


def _blocks(dice, scale):
    names, text = [], ""
    for k in range(dice.choice([1, 1, 2])):
        name = f"b{k}"
        names.append(name)
        sort = dice.random()
        if sort < 0.55:
            across, down = dice.randint(1, 4), dice.randint(1, 4)
            grid = [" ".join(_cell(dice) for _ in range(across)) for _ in range(down)]
            text += f"[blocks.{name}]\nsize = {scale!r}\ngrid = {json.dumps(grid)}\n"
            if dice.random() < 0.2:
                widths = [dice.choice([1, 1, 2, 0.01, 0.3]) for _ in range(across)]
                text += f"columns = {json.dumps(widths)}\n"
        elif sort < 0.8:
            text += f"[blocks.{name}]\nsize = {scale!r}\nunits = 10\n" + _curved(dice, name)
        else:
            which = dice.choice([*LIBRARY])
            roles = {role: dice.choice(FABRICS) for role in LIBRARY[which]}
            text += f'[blocks.{name}]\nlibrary = "{which}"\nsize = {scale!r}\n'
            text += f"fabrics = {_value(roles)}\n"
    return names, text


def _curved(dice, name):
    """Two patches that meet in a wave, or in a narrow strip."""
    if dice.random() < 0.3:
        thin = dice.choice([0.02, 0.1, 0.5])
        strips = [(0, 5), (5, 5 + thin), (5 + thin, 10)]
        return "".join(
            f'[[blocks.{name}.patches]]\nname = "s{i}"\nfabric = "{dice.choice(FABRICS)}"\n'
            f"points = [[{a}, 0], [{b}, 0], [{b}, 10], [{a}, 10]]\n"
            for i, (a, b) in enumerate(strips)
        )
    bend = round(dice.uniform(-3, 3), 3)
    wave = f"C {5 + bend} 3 {5 - bend} 7 5 10"
    back = f"C {5 - bend} 7 {5 + bend} 3 5 0"
    return (
        f'[[blocks.{name}.patches]]\nname = "left"\nfabric = "{dice.choice(FABRICS)}"\n'
        f'path = "M 0 0 L 5 0 {wave} L 0 10 Z"\n'
        f'[[blocks.{name}.patches]]\nname = "right"\nfabric = "{dice.choice(FABRICS)}"\n'
        f'path = "M 5 10 {back} L 10 0 L 10 10 Z"\n'
    )


def _layout(dice, names, scale):
    rows, columns = dice.choice([(1, 1), (1, 2), (2, 2), (2, 3), (3, 3)])
    turn = ["", "", ":90", ":180", ":m", ":270m"]
    listed = [
        " ".join(dice.choice(names) + dice.choice(turn) for _ in range(columns))
        for _ in range(rows)
    ]
    keys = {"rows": listed}
    pointed = dice.random() < 0.15
    if pointed:  # rows of one more and one less in turn
        listed = [" ".join([dice.choice(names)] * (2 - k % 2)) for k in range(3)]
        keys = {"rows": listed, "on_point": True, "setting": dice.choice(FABRICS)}
    if dice.random() < 0.3:
        keys["sashing"] = {
            "width": round(scale / dice.choice([5, 12, 300]), 4),
            "fabric": dice.choice(FABRICS),
            "around": dice.random() < 0.5,
        }
        if pointed or dice.random() < 0.5:
            keys["sashing"]["cornerstone"] = dice.choice(FABRICS)
    keys["borders"] = [
        {
            "width": round(scale / dice.choice([3, 5, 20]), 4),
            "fabric": dice.choice(FABRICS),
            "corners": dice.choice(["butted", "squares", "mitred"]),
        }
        for _ in range(dice.choice([0, 0, 1, 2]))
    ]
    text = "[layout]\n" + "".join(f"{k} = {_value(v)}\n" for k, v in keys.items() if k != "borders")
    return text + "".join(_table("[[layout.borders]]", border) for border in keys["borders"])


def _outline(dice):
    """Path data: stars in one stroke, stars, blobs, circles, slivers, holes, parts that touch."""
    n = dice.choice([3, 4, 5, 6, 7])
    around = [2 * math.pi * k / (2 * n) for k in range(2 * n)]
    inner = dice.choice([0.2, 0.38, 0.5, 0.9, 0.02])
    star = [
        (
            5 + 5 * (inner if k % 2 else 1) * math.sin(a),
            5 - 5 * (inner if k % 2 else 1) * math.cos(a),
        )
        for k, a in enumerate(around)
    ]
    blob = [
        (r * math.cos(a), r * math.sin(a))
        for a, r in ((2 * math.pi * k / 12, dice.uniform(2, 7)) for k in range(12))
    ]
    return dice.choice(
        [
            "M5 0L8 10L0 4L10 4L2 10Z",
            "M5 0L6 4L10 5L6 6L5 10L4 6L0 5L4 4Z",
            "M0 0L10 0L10 10L0 10Z M0 5L4 3L4 7Z",
            "M0 0L10 0L10 10L0 10Z M3 3L3 7L7 7L7 3Z",
            "M0 0L10 0L10 10L0 10Z M10 10L20 10L20 20L10 20Z",
            "M0 0L10 0L10 10L0 10Z M5 10L12 10L12 17L5 17Z",
            "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z",
            "M 0 0 C 8 -6 12 6 20 0 C 14 10 6 10 0 0 Z",
            "M0 0L40 0.5L0 1Z",
            "M0 0L20 0L20 20L19.9 20L19.9 0.1L0 0.1Z",
            "M0 0L10 0L10 10L5 0.01L0 10Z",
            "M0 0H30V30H0Z M2 2V28H28V2Z",
            _path(star),
            _path(star),
            _path(blob),
        ]
    )


def _path(points):
    return "M" + " L".join(f"{x:.4f} {y:.4f}" for x, y in points) + " Z"


def _stroke_keys(dice, scale):
    """Which lines a piece gets."""
    keys = {}
    if dice.random() < 0.15:
        keys["centre"] = False
    if dice.random() < 0.5:
        keys["out_and_back"] = dice.choice([True, True, 0.2, 3.2])
    if dice.random() < 0.15:
        keys["vein"] = True
    if dice.random() < 0.3:
        keys["tip"] = dice.choice([0, 0, 0.01, 1, 5])
    if dice.random() < 0.35:
        step = round(scale / dice.choice([10, 20, 60]), 3)
        keys["echo"] = {"step": step, "count": dice.randint(1, 4)}
    if dice.random() < 0.3:
        keys["corner"] = dice.choice(["round", "mitre"])
    if dice.random() < 0.3:
        keys["mirror"] = True
    return keys


def _piece(dice, k, scale, names):
    keys = {
        "name": f"p{k}",
        "outline": _outline(dice),
        "on": dice.choice([*names, "A1", "A1", "top"]),
        "size": round(scale * dice.choice([0.1, 0.3, 0.43, 0.6, 0.6, 0.7]), 4),
        "turn": dice.choice([0, 0, 14, 45, 90, 180.0001]),
        "fused": dice.choice(["before", "after"]),
        "fabric": dice.choice(FABRICS),
        "cut_ditch": dice.random() < 0.5,
        "cut_fill": dice.random() < 0.5,
    }
    if dice.random() < 0.3:
        keys["thread"] = "red"
    if dice.random() < 0.5:
        keys["edge_line"] = dice.choice([True, 0.3, round(scale / 30, 3)])
    if dice.random() < 0.3:
        keys["at"] = [round(scale * dice.choice([0.4, 0.5, 0.55]), 4), round(scale / 2, 4)]
    if dice.random() < 0.1:
        keys["arms"] = dice.choice([1, 1, 2, [12, 3, 6, 9]])
    return _table("[[applique]]", keys | _stroke_keys(dice, scale))


def _lines(dice, scale):
    keys = {"ditch": dice.choice(["all", "all", "feature", "blocks", "none"])}
    keys["feature"] = dice.sample(FABRICS, dice.choice([1, 2]))
    if dice.random() < 0.25:
        keys["edge_line"] = round(scale / dice.choice([15, 30, 200]), 3)
    if dice.random() < 0.25:
        keys["echo"] = {"step": round(scale / dice.choice([8, 20]), 3), "count": dice.randint(1, 3)}
    keys["corner"] = dice.choice(["round", "mitre"])
    return _table("[lines]", keys)


def _fill(dice, k, scale, names):
    keys = {
        "style": dice.choice(STYLES),
        "spacing": round(scale / dice.choice([3, 5, 8, 12]), 3),
        "angle": dice.choice([0, 0, 45, 30, 90, 12.5, -45]),
        "seed": k + 1,
    }
    if dice.random() < 0.4:
        keys["fabric"] = dice.choice(FABRICS)
    else:
        keys["region"] = dice.choice(["ground", "rest", "A1", *names])
    if dice.random() < 0.5:
        keys["inset"] = dice.choice([0, 0, 0.01, round(scale / 30, 3)])
    if dice.random() < 0.2:
        keys["thread"] = "blue"
    return _table("[[fills]]", keys)


def _threads(dice):
    text = ""
    kinds = ["ditch", "centre", "outline", "echo", "fill"]
    for name in THREADS:
        keys = {"contrast": dice.random() < 0.3}
        if name != "grey" and dice.random() < 0.6:
            keys["lines"] = dice.sample(kinds, dice.choice([1, 1, 2]))
        if dice.random() < 0.3:
            keys["travel"] = dice.random() < 0.5
        text += _table(f"[threads.{name}]", keys)
    return text


def _pace(dice):
    text = ""
    if dice.random() < 0.3:
        keys = ["pivot", "turn_size", "turn_roll", "come_back", "foot", "end_inside", "start"]
        asked = {key: dice.choice([0, 0, 1, 7.5, 300]) for key in dice.sample(keys, 3)}
        text += _table("[pace]", asked)
    if dice.random() < 0.2:
        looks = {key: dice.choice([0, 0.5, 40]) for key in ("end", "end_piece", "again")}
        text += _table("[looks]", looks)
    return text


def _rest(dice, scale, framed):
    text = ""
    if dice.random() < 0.5 and not framed:
        margin = dice.choice(["0", "2 in", "5 mm", "0.3 mm"])
        text += _table("[batting]", {"margin": margin})
    if framed:
        depth = round(max(scale * dice.choice([0.6, 1.1, 2.3]), 26), 3)
        text += _table("[machine]", {"kind": "frame", "depth": depth})
    elif dice.random() < 0.4:
        kinds = ["ditch", "centre", "outline", "echo", "fill"]
        feet = [dice.choice(["walking", "free-motion"]) for _ in range(3)]
        by_kind = dict(zip(dice.sample(kinds, 2), feet, strict=False))
        text += _table("[machine]", {"foot": dice.choice([feet[2], by_kind])})
    text += _pace(dice)
    if dice.random() < 0.4:
        kinds = ["end_inside", "end_margin", "travel_margin", "travel_seam"]
        kinds += ["retrace_ditch", "retrace_shown"]
        prices = {
            kind: dice.choice([0, 0, 1e-6, 1, 2.5, 1000, 1e6])
            for kind in dice.sample(kinds, dice.randint(1, 6))
        }
        text += _table("[prices]", prices)
    route = {"retrace": dice.choice(["never", "ditch", "allowed", "allowed"])}
    if dice.random() < 0.4:
        route["anchor"] = dice.choice(["first", "mixed"])
    if dice.random() < 0.4:
        route["order"] = dice.choice(["taught", "free"])
    if dice.random() < 0.25:
        route["start"] = dice.choice(["A1 top left", "A1 bottom right"])
    return text + _table("[route]", route)
