"""Better and better tours: exchanges of links, and small upsets that are kept when they pay.

A tour is a closed row of slots: two for each line, in the order in which it is stitched, and two
for the *hub* that every tour passes once, where the first run begins and the last one stops. The
links between lines may be exchanged, the lines themselves not. Exchanges follow chains of links
as long as they gain (Lin and Kernighan 1973), or move a stretch to another place. Then two
neighbouring stretches are swapped at random, the links round about are exchanged until nothing
gains, and what is dearer than before is undone (Martin, Otto and Felten 1991).

Where phases are asked a link out of order is dear. Where some lines are of no phase and may stand
anywhere, every exchange keeps the order instead: what it turns round is of one phase but for
those. Stretches of them are moved at random, too.
"""

from array import array
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate
from random import Random

import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.passages.links import Links
from stitchpath.route.passages.taught import WHENEVER

__all__ = ["DISORDER", "Tour"]

DISORDER = 1e5  # price of every phase that a link leads on, or back: far more than a quilt takes

_GAIN = 1e-7  # less is rounding
_SMALL = 64  # slots: with no more than these, every link is tried
_WIDE = 8  # and else so many for each slot
_ACROSS = 5  # and so many more that lead to other pieces
_ENDS = 8  # so many of the cheapest run ends are tried for the first and the last
_BREADTH = (6, 3, 2, 1, 1)  # so many links are tried at each step of a chain
_FAR = 2000  # places: a longer stretch is turned round only where that gains at once
_STRETCH = 16  # lines: how long the stretches are that are swapped
_LONG = 100  # slots: more are turned round as arrays
_MOVES = 0.6  # share of the upsets that move lines of no phase, where there are any
_MOVED_LINES = 12  # at most so many lines at once
_MOVED = 4e-8  # s of work to move one slot
_SPENT = 0.1  # s of work after which it is told
_LOOKED = 3e-5  # s of work to look at what one slot could be linked to


def _silent(_: float) -> None:
    """Tell no one what a tour costs."""


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
        order, each once, pays the least for `DISORDER`. Where some are `WHENEVER`, the tour that is
        given goes through the phases of the others in order, and so do all that come of it.
    """

    def __init__(
        self, links: Links, order: Sequence[int], phase: Sequence[int] | None = None
    ) -> None:
        slots = 2 * len(links.edges)
        self._near = [*links.near, {}, {}]
        self._hub = [*links.hub.tolist(), 0.0, 0.0]
        # Without an order all is of one phase, the hub too.
        self._phase = [0] * (slots + 2)
        if phase is not None:
            known = [p for p in phase if p != WHENEVER]
            self._phase = [p for p in phase for _ in range(2)] + [min(known), max(known)]
        self._loose = [k for k in range(slots // 2) if self._phase[2 * k] == WHENEVER]
        self._disorder = 0.0 if self._loose else DISORDER
        wide = _WIDE if slots > _SMALL else slots
        wide = wide + wide // 2 if self._loose else wide
        self._ranked = [[slots, slots + 1, *row] for row in _ranked(links, wide)]
        ends = sorted(range(slots), key=lambda slot: (self._hub[slot], slot))[:_ENDS]
        self._ranked += [ends, ends]
        # What is tried most often is not looked up again each time: a slot, what a link to it
        # costs, and the least that this one and all after it cost.
        self._tried = [self._row(slot) for slot in range(slots + 2)]
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

    def _row(self, slot: int) -> list[tuple[int, float, float]]:
        others = self._ranked[slot]
        prices = [self._price(slot, other) for other in others]
        least = list(accumulate(reversed(prices), min))[::-1]
        return list(zip(others, prices, least, strict=True))

    def _price(self, a: int, b: int) -> float:
        price = self._near[a].get(b)
        if price is None:
            price = self._hub[a] + self._hub[b]
        apart = self._phase[a] - self._phase[b]
        return price + self._disorder * abs(apart) if apart else price

    def slots(self) -> list[int]:
        """Give the slots in order from the hub, without its own."""
        order, hub = self._order, len(self._order) - 2
        at = self._place[hub]
        if at % 2:
            return list(order[at + 1 :] + order[: at - 1])
        return list(order[at + 2 :] + order[:at])[::-1]

    def improve(
        self,
        effort: Effort,
        *,
        upsets: int,
        enough: float = 0.0,
        seed: int = 0,
        heard: Callable[[float], None] = _silent,
    ) -> None:
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
        heard
            Called with what the tour costs, the price of phases left out, whenever it is less.
        """
        heard(self.real)
        self._settle(list(range(len(self._order))), effort)
        heard(self.real)
        enough += _GAIN + self._disorder * (self._phase[-1] - self._phase[-2])
        chance = Random(seed)  # noqa: S311 - no secret hangs on it
        for _ in range(upsets):
            if effort.late or self.cost <= enough:
                break
            before = self.cost
            self._log.clear()
            moving = self._loose and chance.random() < _MOVES
            dirty = self._shift(chance) if moving else self._upset(chance)
            self._settle(dirty, effort)
            if self.cost > before + _GAIN:
                for i, j in reversed(self._log):
                    self._reverse(i, j)
                self.cost = before
            elif self.cost < before - _GAIN:
                heard(self.real)
            effort.spend(self._work)
            self._work = 0.0
        self._log.clear()

    @property
    def real(self) -> float:
        """What it costs, the price of phases in their order left out."""
        return self.cost - self._disorder * (self._phase[-1] - self._phase[-2])

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
        return self._order[place + 1 - len(self._order) if place % 2 else place - 1]

    def _exchange(self, one: int) -> tuple[int, ...]:
        """Take the link at a slot out, for a better one if there is any; give the slots changed."""
        two = self._partner(one)
        return self._chain(one, two, self._price(one, two), 0)

    def _chain(self, one: int, two: int, gain: float, depth: int) -> tuple[int, ...]:
        """Go on with a chain: one and two want links, and `gain` has been gained so far."""
        order, place, price = self._order, self._place, self._price
        size, side = len(order), place[two] % 2
        further: list[tuple[float, int, int]] = []
        for three, linked, least in self._tried[two]:
            if gain - least <= _GAIN:
                break
            left = gain - linked
            if left <= _GAIN:
                continue
            at = place[three]
            four = order[at + 1 - size if at % 2 else at - 1]  # its partner
            if one in (three, four):
                continue
            opened = left + price(three, four)
            if at % 2 != side:
                touched = self._move(one, two, three, four, opened)
            else:
                touched = self._close(one, two, four, opened)
                further.append((opened, three, four))
            if touched:
                return (two, three, four, *touched)
        if depth + 1 == len(_BREADTH):
            return ()
        further.sort(key=lambda step: (-step[0], step[1]))
        for opened, three, four in further[: _BREADTH[depth]]:
            touched = self._follow(one, two, four, opened, depth)
            if touched:
                return (two, three, four, *touched)
        return ()

    def _close(self, one: int, two: int, four: int, opened: float) -> tuple[int, ...]:
        """End a chain, if that gains: two is linked, and one and four are left."""
        closed = opened - self._price(one, four)
        if closed <= _GAIN or not self._keeps(two, four):
            return ()
        self._flip(two, four)
        self.cost -= closed
        return (one,)

    def _follow(self, one: int, two: int, four: int, opened: float, depth: int) -> tuple[int, ...]:
        """Exchange links at a loss so far, and go on from there; undo it if nothing is gained."""
        apart = abs(self._place[two] - self._place[four])
        if min(apart, len(self._order) - apart) > _FAR or not self._keeps(two, four):
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
        if not self._one_phase(begin, place[last], hub=False):
            return ()
        best = (_GAIN, -1, -1, -1, -1)
        for outside, other in ((one, four), (four, one)):
            for inside, linked, least in self._tried[outside]:
                if opened - least <= best[0]:
                    break
                left = opened - linked
                if left <= best[0]:
                    continue
                at = place[inside]
                if (at - begin) % size > length or inside in (first, last):
                    continue
                mate = order[at + 1 - size if at % 2 else at - 1]  # its partner
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
        if not self._may_swap(i, q, j):
            return []
        self.cost += price(before, y) + price(b, a) + price(x, after)
        self.cost -= price(before, a) + price(x, y) + price(b, after)
        self._flip(a, x)
        self._flip(y, b)
        self._flip(x, y)
        return [before, a, x, y, b, after]

    def _shift(self, chance: Random) -> list[int]:
        """Move some lines of no phase to where they are near; give the slots that this changes."""
        order, place, price = self._order, self._place, self._price
        size = len(order)
        i = place[2 * chance.choice(self._loose)]
        i -= i % 2
        j = i + 1
        for _ in range(chance.randrange(_MOVED_LINES)):
            if self._phase[order[(j + 1) % size]] != WHENEVER:
                break
            j += 2
        a, b = order[i], order[j % size]
        before, after = order[i - 1], order[(j + 1) % size]
        tip, other = (a, b) if chance.randrange(2) else (b, a)
        near = chance.choice(self._ranked[tip])
        mate = self._partner(near)
        inside = [(place[slot] - i) % size <= (j - i) % size for slot in (near, mate)]
        if any(inside) or {near, mate} == {before, after}:
            return []
        self.cost += price(before, after) + price(near, tip) + price(mate, other)
        self.cost -= price(before, a) + price(b, after) + price(near, mate)
        left = near if place[near] % 2 else mate  # what comes before them in the end
        self._flip(a, b)
        if left != before:
            self._flip(b, left)
            self._flip(left, after)
        if self._partner(left) != (tip if left == near else other):
            self._flip(self._partner(left), b if self._partner(left) == a else a)
        return [before, after, near, mate, a, b]

    def _may_swap(self, i: int, q: int, j: int) -> bool:
        """Whether the order stays if places i to q and those from there to j are swapped."""
        order, size = self._order, len(self._order)
        if not self._loose:
            return len({self._phase[order[k % size]] for k in (i, q, q + 1, j)}) == 1
        if self._one_phase(i, j, hub=False):
            return True
        if (self._place[size - 2] - i) % size <= j - i:
            return False
        return any(
            all(self._phase[order[k % size]] == WHENEVER for k in range(*part))
            for part in ((i, q + 1), (q + 1, j + 1))
        )

    def _keeps(self, first: int, last: int) -> bool:
        """Whether the order of the phases stays if the stretch between two slots is turned round.

        To turn round a stretch is to turn round all others: what counts is the one without the hub.
        """
        if not self._loose:
            return True
        i, j = self._place[first], self._place[last]
        if i % 2:
            i, j = j, i
        size = len(self._order)
        hub = self._place[size - 2]
        if (hub - i) % size <= (j - i) % size:
            i, j = j + 1, i - 1
        return self._one_phase(i, j, hub=True)

    def _one_phase(self, i: int, j: int, *, hub: bool) -> bool:
        """Whether lines from place i to place j are all of one phase, but for those of none.

        Parameters
        ----------
        i, j
            Places, in the order of phases; j may lie before i, round the end.
        hub
            Whether it is known that the hub is not among them; else it must not be.
        """
        if not self._loose:
            return True
        order, phase, size = self._order, self._phase, len(self._order)
        count = (j - i) % size + 1
        if not hub and (self._place[size - 2] - i) % size < count:
            return False
        k = 0
        while k < count and phase[order[(i + k) % size]] == WHENEVER:
            k += 1
        if k == count:
            return True
        m = 0
        while phase[order[(j - m) % size]] == WHENEVER:
            m += 1
        return phase[order[(i + k) % size]] == phase[order[(j - m) % size]]


def _ranked(links: Links, wide: int) -> Iterator[list[int]]:
    """Give for each slot those that are tried: the cheapest, and some more of other pieces."""
    piece: list[int] = links.piece.tolist()
    for slot, near in enumerate(links.near):
        row = list(near)
        beyond = [other for other in row[wide:] if piece[other] != piece[slot]]
        yield row[:wide] + beyond[:_ACROSS]
