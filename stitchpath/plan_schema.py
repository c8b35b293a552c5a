"""The JSON Schema of plan.json: what another program may count on."""

from collections.abc import Mapping
from typing import Any, get_args

from stitchpath.base.findings import Level
from stitchpath.base.typing import Along, Kind, Where
from stitchpath.base.units import Unit
from stitchpath.design.model import Loaded
from stitchpath.route.runs import Do

__all__ = ["FORMAT", "plan_schema"]

FORMAT = "stitchpath-plan/1"  # the number is another one when something here changes

Schema = dict[str, Any]


def _told(about: str, **keys: Any) -> Schema:  # noqa: ANN401 - words of JSON Schema
    return {"description": about, **keys}


def _number(about: str) -> Schema:
    return _told(about, type="number")


def _positive(about: str) -> Schema:
    return _told(about, type="number", minimum=0)


def _count(about: str, least: int = 0) -> Schema:
    return _told(about, type="integer", minimum=least)


def _text(about: str) -> Schema:
    return _told(about, type="string")


def _one_of(about: str, words: object) -> Schema:
    return _told(about, enum=list(get_args(words)))


def _list(items: Schema, about: str) -> Schema:
    return _told(about, type="array", items=items)


def _table(keys: Mapping[str, Schema], optional: tuple[str, ...] = (), **more: object) -> Schema:
    """Describe an object: all its keys are there but the optional ones; others may come."""
    needed = [key for key in keys if key not in optional]
    return {"type": "object", "properties": dict(keys), "required": needed, **more}


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def plan_schema() -> Schema:
    """Write the JSON Schema (draft 2020-12) of a plan.json of the format stitchpath-plan/1."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "stitchpath plan",
        "description": "A planned quilt. Lengths and coordinates are millimetres, x to the right "
        "and y down from the top left corner of the finished top. More keys may be there.",
        **_table({**_head(), **_lists(), **_sums()}, optional=("windows", "loaded", "areas")),
        "$defs": {
            "point": _told("x and y, mm.", type="array", items={"type": "number"},
                           minItems=2, maxItems=2),
            "path": _told("A polyline; curves are flattened to 0.05 mm or better.", type="array",
                          items={"$ref": "#/$defs/point"}, minItems=2),
            "line": _line(),
            "leg": _leg(),
            "run": _run(),
            "roll": _roll(),
            "place": _table({
                "run": _count("Number of the run.", 1),
                "along": _positive("How far along it, mm."),
                "point": {"$ref": "#/$defs/point"},
                "place": _text("Where that is, in words."),
            }),
        },
    }  # fmt: skip


def _head() -> Schema:
    return {
        "format": _told("A change to what stands here is a new number.", const=FORMAT),
        "name": _text("Name of the quilt."),
        "unit": _one_of("The design's own unit, used in words; never that of a number.", Unit),
        "lengths": _told("The unit of every length and coordinate.", const="mm"),
        "quilt": _table(
            {
                "width": _positive("Of the finished top, mm."),
                "height": _positive("Of the finished top, mm."),
                "outline": {"$ref": "#/$defs/path"},
            }
        ),
        "margin": _positive("Batting beyond the top in which stitching may start and stop, mm."),
        "windows": _list(
            _told(
                "Its top, its bottom, and what it stitches down to: y, or x if sideways, mm.",
                type="array",
                items={"type": "number"},
                minItems=3,
                maxItems=3,
            ),
            "In a frame: what it shows at a time, from the edge that is loaded first.",
        ),
        "loaded": _one_of("In a frame: with its top edge first, or its left edge.", Loaded),
    }


def _lists() -> Schema:
    return {
        "lines": _list({"$ref": "#/$defs/line"}, "Every line that has to be stitched."),
        "runs": _list({"$ref": "#/$defs/run"}, "Unbroken thread paths, in stitching order."),
        "areas": _list(
            _table({"place": _text("Where it is, in words."), "roll": {"$ref": "#/$defs/roll"}}),
            "Where the throat is known: what is finished in one go, and the roll that it needs.",
        ),
        "thread": _list(
            _table(
                {
                    "name": _text("Name of the thread."),
                    "top": _positive("On top, mm."),
                    "bobbin": _positive("On the bobbins, mm."),
                    "bobbins": _count("How many bobbins of it."),
                    "waste": _positive("Of both, left on bobbins and lost, mm."),
                }
            ),
            "What each thread comes to.",
        ),
        "bobbin_changes": _list(_change(), "Where the bobbin is changed."),
        "to_buy": _list(
            _table(
                {
                    "thread": _text("Name of the thread."),
                    "need": _positive("How much of it, mm."),
                    "spools": _list(
                        _table(
                            {
                                "metres": _positive("On one spool, m."),
                                "count": _count("How many.", 1),
                            }
                        ),
                        "What to buy.",
                    ),
                }
            ),
            "Spools and cones, where the design says how thread is sold.",
        ),
        "checks": _list(
            _table(
                {
                    "level": _one_of("How bad.", Level),
                    "code": _text("Always the same for the same kind of finding."),
                    "message": _text("One sentence in a quilter's words."),
                    "at": _or_null({"$ref": "#/$defs/point"}),
                }
            ),
            "What could go wrong.",
        ),
    }


def _sums() -> Schema:
    return {
        "cloth": _table(
            {
                "batting": _table(
                    {"width": _positive("To cut, mm."), "height": _positive("To cut, mm.")}
                ),
                "backing": _table(
                    {
                        "way": _told("How the lengths run.", enum=["down", "across"]),
                        "lengths": _count("How many are joined.", 1),
                        "length": _positive("Of each, mm."),
                        "fabric": _positive("Of all together, mm."),
                    }
                ),
                "bill": _or_null(_bill()),
            }
        ),
        "totals": _table(
            {
                "stitched": _positive("mm."),
                "retraced": _positive("mm."),
                "travelled": _positive("mm."),
                "runs": _count("Unbroken thread paths.", 1),
                "breaks": _count("Runs less the pairs of stage and thread."),
                "turning": _positive("Where lines meet, degrees in all."),
                "pivots": _count("Turns of more than 30 degrees, corners within lines and all."),
                "returns": _count("How often she comes back to an area that she has left."),
                "foot_changes": _count("How often the foot is changed."),
                "stitches": _count("Stitches in all."),
                "seconds": _positive("At the machine, s."),
            },
            optional=("returns", "foot_changes"),
        ),
        "proof": _table(
            {
                "unit": _told(
                    "What it is weighed by: seconds at her pace, or mm of stitching at the "
                    "design's prices (left out: mm).",
                    enum=["s", "mm"],
                ),
                "cost": _positive("Of the path, in that unit."),
                "lower_bound": _number("No path costs less."),
                "optimal": _told("Whether they meet.", type="boolean"),
                "cut_off": _told(
                    "Whether a clock has ended a search: then another run may end elsewhere.",
                    type="boolean",
                ),
                "free": _positive(
                    "Where an order is kept: what the cheapest path found costs that keeps to "
                    "none. "
                    "The bound is then for paths that keep to the order."
                ),
            },
            optional=("unit", "free"),
        ),
    }


def _bill() -> Schema:
    amount = _told("A decimal number as text.", type="string", pattern=r"^-?[0-9]+(\.[0-9]+)?$")
    return _table(
        {
            "currency": _text("A label and no more."),
            "lines": _list(
                _table({"what": _text("What is charged for."), "amount": amount}), "The bill."
            ),
            "total": amount,
        }
    )


def _line() -> Schema:
    return _table(
        {
            "id": _told("L1, L2 and so on.", type="string", pattern="^L[1-9][0-9]*$"),
            "kind": _one_of("What sort of quilting.", Kind),
            "stage": _count("Stages are stitched in order.", 1),
            "thread": _text("Name of its thread."),
            "place": _text("Where it is, in words."),
            "low": _told("Low side, seen along its points.", enum=["left", "right", None]),
            "points": {"$ref": "#/$defs/path"},
        }
    )


def _leg() -> Schema:
    travel = {"properties": {"do": {"const": "travel"}}}
    return _table(
        {
            "do": _one_of("First time over a line, again over it, or over none.", Do),
            "line": _told("Id of the line.", type="string", pattern="^L[1-9][0-9]*$"),
            "along": _one_of("What a travel leg runs along.", Along),
            "points": {"$ref": "#/$defs/path"},
        },
        optional=("line", "along"),
        **{"if": travel, "then": {"required": ["along"]}, "else": {"required": ["line"]}},
    )


def _run() -> Schema:
    end = _table({"point": {"$ref": "#/$defs/point"}, "where": _one_of("Where that is.", Where)})
    return _table(
        {
            "number": _count("In stitching order.", 1),
            "stage": _count("Stage of its lines.", 1),
            "thread": _text("Thread of its lines."),
            "window": _count("In a frame: the window it begins in.", 1),
            "parked": _told("Where the needle is parked while the quilt is rolled on.",
                            type="array", items=_table({
                                "leg": _count("The leg, from 0, that it goes on with.", 1),
                                "window": _count("The window that it goes on in.", 1)})),
            "start": end,
            "end": end,
            "stitches": _count("Stitches in it."),
            "top": _positive("Thread on top, mm."),
            "bobbin": _positive("Thread of the bobbin, mm."),
            "seconds": _positive("At the machine, s."),
            "roll": {"$ref": "#/$defs/roll"},
            "legs": _told("In stitching order.", type="array", items={"$ref": "#/$defs/leg"},
                          minItems=1),
        },
        optional=("window", "parked", "roll"),
    )  # fmt: skip


def _roll() -> Schema:
    return _told(
        "What lies right of the needle where most does.",
        **_table(
            {
                "width": _positive("So much of the quilt, mm."),
                "thick": _positive("Diameter of its roll, mm."),
                "side": _told("Of the quilt.", enum=["left", "right", "top", "bottom"]),
                "at": {"$ref": "#/$defs/point"},
                "turned": _positive("Diameter, stitched from its end to its start, mm."),
            }
        ),
    )


def _change() -> Schema:
    where = _told(
        "What kind of place: between runs, in the margin, at a turn in a seam, or anywhere.",
        enum=["run end", "margin", "pivot", "line"],
    )
    return _table(
        {
            "thread": _text("Name of the thread on the bobbin."),
            "bobbin": _count("Which bobbin of it is taken out.", 1),
            "where": where,
            "stop": {"$ref": "#/$defs/place"},
            "gives_out": _or_null({"$ref": "#/$defs/place"}),
            "waste": _positive("Left on it, mm."),
        }
    )
