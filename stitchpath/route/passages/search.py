"""Better and better tours: exchanges of links, and small upsets that are kept when they pay.

A tour is a closed row of slots: two for each line, in the order in which it is stitched, and two
for the *hub* that every tour passes once, where the first run begins and the last one stops. The
links between lines may be exchanged, the lines themselves not. Exchanges follow chains of links
as long as they gain (Lin and Kernighan 1973), or move a stretch to another place. Then two
neighbouring stretches are swapped at random, the links round about are exchanged until nothing
gains, and what is dearer than before is undone (Martin, Otto and Felten 1991).
"""

from array import array
from collections.abc import Sequence
from random import Random

import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.passages.links import Links

__all__ = ["DISORDER", "Tour"]

DISORDER = 1e5  # price of every phase that a link leads on, or back: far more than a quilt takes
_GAIN = 1e-7  # less is rounding
_SMALL = 64  # slots: with no more than these, every link is tried
_WIDE = 8  # and else so many for each slot
_ENDS = 8  # so many of the cheapest run ends are tried for the first and the last
_BREADTH = (6, 3, 2, 1, 1)  # so many links are tried at each step of a chain
_FAR = 2000  # places: a longer stretch is turned round only where that gains at once
_STRETCH = 16  # lines: how long the stretches are that are swapped
_LONG = 100  # slots: more are turned round as arrays
_MOVED = 4e-8  # s of work to move one slot
_SPENT = 0.1  # s of work after which it is told
_LOOKED = 3e-5  # s of work to look at what one slot could be linked to


class Tour:
    """A tour that is made better in place.

    Parameters
    ----------
    links
        What the links cost.
    order
        Slots in order, two for each line: by which it is come to, and by which it is left.
    phase
        By line, when it is to be stitched, from 0: a tour that goes through the phases in their
        order, each once, pays the least for `DISORDER`.
    """

    def __init__(
        self, links: Links, order: Sequence[int], phase: Sequence[int] | None = None
    ) -> None:
        slots = 2 * len(links.edges)
        self._near = [*links.near, {}, {}]
        self._hub = [*links.hub.tolist(), 0.0, 0.0]
        self._phase = [0] * (slots + 2)
        if phase is not None:
            self._phase = [p for p in phase for _ in range(2)] + [min(phase), max(phase)]
        # The nearest first, in whatever phase: a link out of order is passed over, not the last.
        wide = _WIDE if slots > _SMALL else slots
        self._ranked = [[slots, slots + 1, *list(row)[:wide]] for row in links.near]
        ends = sorted(range(slots), key=lambda slot: (self._hub[slot], slot))[:_ENDS]
        self._ranked += [ends, ends]
        # The hub comes first: its second slot leads to the first line, and has the first phase.
        self._order = array("q", [slots + 1, slots, *order])
        self._place = array("q", bytes(8 * (slots + 2)))
        # the same numbers, for long stretches
        self._orders = np.frombuffer(self._order, dtype=np.int64)
        self._places = np.frombuffer(self._place, dtype=np.int64)
        self._places[self._orders] = np.arange(slots + 2)
        self._log: list[tuple[int, int]] = []
        self._work = 0.0
        order_ = self._order
        self.cost = sum(
            self._price(order_[k], order_[(k + 1) % len(order_)]) for k in range(1, len(order_), 2)
        )

    def _price(self, a: int, b: int) -> float:
        price = self._near[a].get(b)
        if price is None:
            price = self._hub[a] + self._hub[b]
        apart = self._phase[a] - self._phase[b]
        return price + DISORDER * abs(apart) if apart else price

    def slots(self) -> list[int]:
        """Give the slots in order from the hub, without its own."""
        order, hub = self._order, len(self._order) - 2
        at = self._place[hub]
        if at % 2:
            return list(order[at + 1 :] + order[: at - 1])
        return list(order[at + 2 :] + order[:at])[::-1]

    def improve(self, effort: Effort, *, upsets: int, enough: float = 0.0, seed: int = 0) -> None:
        """Exchange links until nothing gains, then upset and mend it some times.

        Parameters
        ----------
        effort
            What may be spent.
        upsets
            How often it is upset.
        enough
            A cost that cannot be bettered, disorder left out.
        seed
            Of the upsets.
        """
        self._settle(list(range(len(self._order))), effort)
        enough += _GAIN + DISORDER * (self._phase[-1] - self._phase[-2])
        chance = Random(seed)  # noqa: S311 - no secret hangs on it
        for _ in range(upsets):
            if effort.late or self.cost <= enough:
                break
            before = self.cost
            self._log.clear()
            dirty = self._upset(chance)
            self._settle(dirty, effort)
            if self.cost > before + _GAIN:
                for i, j in reversed(self._log):
                    self._reverse(i, j)
                self.cost = before
            effort.spend(self._work)
            self._work = 0.0
        self._log.clear()

    def _settle(self, dirty: list[int], effort: Effort) -> None:
        """Exchange links at some slots, and at those that this changes, until nothing gains."""
        waiting = set(dirty)
        dirty.reverse()
        while dirty:
            slot = dirty.pop()
            waiting.discard(slot)
            self._work += _LOOKED
            touched = self._exchange(slot)
            if touched:
                for other in (slot, *touched):
                    if other not in waiting:
                        waiting.add(other)
                        dirty.append(other)
            if self._work > _SPENT:
                effort.spend(self._work)
                self._work = 0.0
                if effort.late:
                    return

    def _partner(self, slot: int) -> int:
        place = self._place[slot]
        return self._order[(place + 1) % len(self._order) if place % 2 else place - 1]

    def _exchange(self, one: int) -> tuple[int, ...]:
        """Take the link at a slot out, for a better one if there is any; give the slots changed."""
        two = self._partner(one)
        return self._chain(one, two, self._price(one, two), 0)

    def _chain(self, one: int, two: int, gain: float, depth: int) -> tuple[int, ...]:
        """Go on with a chain: one and two want links, and `gain` has been gained so far."""
        further: list[tuple[float, int, int]] = []
        for three in self._ranked[two]:
            left = gain - self._price(two, three)
            if left <= _GAIN:
                continue
            four = self._partner(three)
            if one in (three, four):
                continue
            opened = left + self._price(three, four)
            touched = self._close(one, two, three, four, opened)
            if touched:
                return (two, three, four, *touched)
            if (self._place[two] - self._place[three]) % 2 == 0:
                further.append((opened, three, four))
        if depth + 1 == len(_BREADTH):
            return ()
        further.sort(key=lambda step: (-step[0], step[1]))
        for opened, three, four in further[: _BREADTH[depth]]:
            touched = self._follow(one, two, four, opened, depth)
            if touched:
                return (two, three, four, *touched)
        return ()

    def _close(self, one: int, two: int, three: int, four: int, opened: float) -> tuple[int, ...]:
        """End a chain, if that gains: link two with three, and one and four with what is left."""
        if (self._place[two] - self._place[three]) % 2:
            return self._move(one, two, three, four, opened)
        closed = opened - self._price(one, four)
        if closed <= _GAIN:
            return ()
        self._flip(two, four)
        self.cost -= closed
        return (one,)

    def _follow(self, one: int, two: int, four: int, opened: float, depth: int) -> tuple[int, ...]:
        """Exchange links at a loss so far, and go on from there; undo it if nothing is gained."""
        apart = abs(self._place[two] - self._place[four])
        if min(apart, len(self._order) - apart) > _FAR:
            return ()
        mark = len(self._log)
        self._flip(two, four)
        touched = self._chain(one, four, opened, depth + 1)
        while not touched and len(self._log) > mark:
            self._reverse(*self._log.pop())
        return touched

    def _move(self, one: int, two: int, three: int, four: int, opened: float) -> tuple[int, ...]:
        """Link two with three, which closes a ring, and hang the ring in between one and four."""
        order, place, price = self._order, self._place, self._price
        size = len(order)
        first, last = (two, three) if place[two] % 2 == 0 else (three, two)
        begin, length = place[first], (place[last] - place[first]) % size
        best = (_GAIN, -1, -1, -1, -1)
        for outside, other in ((one, four), (four, one)):
            for inside in self._ranked[outside]:
                left = opened - price(outside, inside)
                if left <= best[0]:
                    continue
                away = (place[inside] - begin) % size
                if away > length or inside in (first, last):
                    continue
                mate = self._partner(inside)
                gained = left + price(inside, mate) - price(mate, other)
                if gained > best[0]:
                    best = (gained, outside, inside, mate, other)
        gained, outside, inside, mate, other = best
        if outside < 0:
            return ()
        before = order[place[first] - 1]  # the slot outside that comes before the ring
        x, y = (mate, inside) if place[inside] % 2 == 0 else (inside, mate)
        whole = (inside if outside == before else mate) == y
        self._flip(first, x)
        self._flip(y, last)
        if whole:
            self._flip(x, y)
        self.cost -= gained
        return outside, inside, mate, other

    def _flip(self, first: int, last: int) -> None:
        """Turn round the stretch between two slots at its ends."""
        place = self._place
        if place[first] % 2 == 0:
            self._turn(place[first], place[last])
        else:
            self._turn(place[last], place[first])

    def _turn(self, i: int, j: int) -> None:
        """Turn round the places from i to j, or all others, and remember it."""
        size = len(self._order)
        i, j = i % size, j % size
        if 2 * ((j - i) % size + 1) > size:
            i, j = (j + 1) % size, (i - 1) % size
        self._log.append((i, j))
        self._reverse(i, j)

    def _reverse(self, i: int, j: int) -> None:
        order, place = self._order, self._place
        size = len(order)
        count = (j - i) % size + 1
        self._work += _MOVED * count
        if count > _LONG:
            at = np.arange(i, i + count) % size
            part = self._orders[at[::-1]]
            self._orders[at] = part
            self._places[part] = at
            return
        if i <= j:
            stretch = order[i : j + 1]
            stretch.reverse()
            order[i : j + 1] = stretch
            for k, slot in enumerate(stretch, i):
                place[slot] = k
            return
        for _ in range(count // 2):
            a, b = order[i], order[j]
            order[i], order[j] = b, a
            place[b], place[a] = i, j
            i = i + 1 if i + 1 < size else 0
            j = j - 1 if j else size - 1

    def _upset(self, chance: Random) -> list[int]:
        """Swap two neighbouring stretches; give the slots that this changes."""
        order, size = self._order, len(self._order)
        lines = size // 2
        most = min(_STRETCH, (lines - 1) // 2)
        if most < 1:
            return []
        begin = chance.randrange(lines)
        one, two = 1 + chance.randrange(most), 1 + chance.randrange(most)
        i, q, j = 2 * begin, 2 * (begin + one) - 1, 2 * (begin + one + two) - 1
        a, x, y, b = (order[k % size] for k in (i, q, q + 1, j))
        before, after = order[i - 1], order[(j + 1) % size]
        price = self._price
        if self._apart(a, x, y, b):
            return []
        self.cost += price(before, y) + price(b, a) + price(x, after)
        self.cost -= price(before, a) + price(x, y) + price(b, after)
        self._flip(a, x)
        self._flip(y, b)
        self._flip(x, y)
        return [before, a, x, y, b, after]

    def _apart(self, *slots: int) -> bool:
        """Whether slots are of different phases."""
        return len({self._phase[slot] for slot in slots}) > 1
