"""Which foot she is told to put on, and when."""

from quilts import SQUARES, planned

from stitchpath.told.directions import directions
from stitchpath.told.feet import feet_put_on
from stitchpath.told.stops import stops

FILLED = SQUARES + '[[fills]]\nregion = "A1"\nstyle = "meander"\nspacing = "1 in"\n'
QUICK = "[pace]\nfoot = 10\n"  # seconds: a change is cheaper than a run more


def said(plan):
    return [task.text for stop in stops(plan) for task in stop.tasks if task.what == "foot"]


def test_the_free_motion_foot_is_put_on_before_the_run_that_needs_it(runner):
    assert feet_put_on(runner) == {(1, 0): "walking", (2, 0): "free-motion"}
    walking, free = said(runner)
    assert walking == "Put on the walking foot."
    assert free.startswith("Put on the free-motion foot, and lower the feed dogs")
    assert "change the foot" in next(stop.title for stop in stops(runner) if stop.run == 2)


def test_a_foot_changed_within_a_run_is_told_at_its_step_with_the_needle_down():
    plan = planned(FILLED + QUICK)
    within = {place: foot for place, foot in feet_put_on(plan).items() if place[1]}
    assert len(feet_put_on(plan)) == plan.foot_changes + 1
    assert within
    steps = [(run.run, step.first_leg, step) for run in directions(plan) for step in run.steps]
    told = {(run, leg): step for run, leg, step in steps if "change to the" in step.text}
    assert told.keys() == within.keys()
    for place, step in told.items():
        assert step.text.startswith(f"Needle down, change to the {within[place]} foot. ")
        assert step.line.startswith("change the foot; ")


def test_a_frame_has_one_foot_and_none_is_told():
    plan = planned(FILLED + '[machine]\nkind = "frame"\n')
    assert not feet_put_on(plan)
    assert not said(plan)
