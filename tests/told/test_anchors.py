"""Pictures of what no card tells: each of what lies together, with room for its numbers."""

import numpy as np
import pytest

from stitchpath.geometry.polylines import path_lengths
from stitchpath.told.anchors import pictures
from stitchpath.told.walks import evenly


@pytest.fixture(scope="module")
def shared_out(strip):
    return pictures(strip)


def drawn(marks):
    return [[stroke.points for stroke in mark.move.strokes] for mark in marks]


def covered(marks):
    """Count lines that a number hides, where a picture shows these: they are too short for it."""
    points = np.concatenate([part for strokes in drawn(marks) for part in strokes])
    least = 0.06 * np.ptp(points, axis=0).max()
    return sum(path_lengths(strokes).sum() < least for strokes in drawn(marks))


def test_what_lies_together_is_in_one_picture_so_that_its_numbers_have_room(shared_out):
    marks = [mark for picture in shared_out for mark in picture.marks]
    assert [mark.number for mark in marks] == list(range(1, len(marks) + 1))
    assert max(len(picture.marks) for picture in shared_out) <= 16
    even = evenly(len(marks), 16)
    assert len(shared_out) <= len(even) + 1
    hidden = sum(covered(picture.marks) for picture in shared_out)
    assert hidden < sum(covered(marks[a:b]) for a, b in even)
