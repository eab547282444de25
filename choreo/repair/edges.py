"""Where along one quantity a scenario begins to work, or ceases to: asked of the linear stage, or of a simulation.

By how much the rows are missed tells where to look next: the line through two misses, followed down to none, is the
edge itself where the miss is linear in the quantity, and falls short of it where it is convex.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field

from choreo.case import Case, Glance, Quantity, glance, glance_at_run, impossible
from choreo.problem.patience import Patience
from choreo.words import ChoreoError
from choreo.words.records import dataclass

# Estimates of the edge between two looks.
ESTIMATES = 3
# What a look goes beyond an estimated edge, as a share of the way there.
BEYOND = 1e-6
# Steps until an edge is known: where misses tell nothing, to a ten-thousandth of what was between two looks.
NARROWING = 16
# So far beyond an edge, in what it is known to, a proof is asked for: nearer it is rounding.
PROVED = 20
# Linear problems that one search of a look may take, at least, and as a share of what the case itself took: a proof
# near an edge takes many, and is not needed.
MOST_SOLVED = 60
MOST_RATIO = 3


@dataclass(frozen=True)
class Look:
    """Whom to ask whether a case works.

    ask: of a case, by no more linear problems than that. shares: of a quantity's size, where it is asked on the way
    out, before the far end. share: an edge is known to this share of the size, or to what a crew can set if that is
    more. even: what helps one way only misses by no more the farther it goes.
    """

    ask: Callable[[Case, int], Glance]
    shares: tuple[float, ...]
    share: float = 0.0
    even: bool = False


# Rows miss by less the nearer an edge is; of bodies that collide nothing says so, and each look is a simulation.
BY_ROWS = Look(glance, (0.1, 0.5, 2.0), even=True)
BY_RUNS = Look(glance_at_run, (0.1, 0.25, 0.5, 0.8, 2.0), 1 / 200)


@dataclass()
class Ray:
    """One quantity in one direction: what a look says of each distance from its value, in SI."""

    case: Case
    quantity: Quantity
    sign: int
    patience: Patience
    known: dict[float, Glance] = field(default_factory=dict)
    look: Look = BY_ROWS

    def value(self, far: float) -> float:
        """Give the quantity's value so far out."""
        return self.quantity.value + self.sign * far

    def at(self, far: float) -> Glance:
        """Ask once for each distance; what has faults there does not work. Raises TimeUp."""
        if far not in self.known:
            self.patience.check()
            try:
                first = self.known.get(0.0)
                most = MOST_SOLVED if first is None else max(MOST_SOLVED, MOST_RATIO * first.solved)
                self.known[far] = self.look.ask(
                    self.case.with_(self.quantity, self.value(far)), most
                )
            except ChoreoError:
                self.known[far] = Glance(None)
        return self.known[far]

    def works(self, far: float) -> bool:
        """Whether there is a plan there."""
        return self.at(far).works is True


def begins(ray: Ray, room: float, fine: float, after: float = 0.0) -> float | None:
    """Give the least distance up to room at which it works, to `fine`; None where no look finds one.

    after: it does not work at 0 nor so far out. What changes nothing of that, near and far, is looked at no closer.
    """
    low = after
    looks = [far for far in _looks(ray, room) if far > after]
    if not looks or _changes_nothing(ray, looks[0], looks[-1]):
        return None
    for far in looks:
        for _ in range(ESTIMATES):
            guess = _estimate(ray, low, far)
            if guess is None:
                break
            if ray.works(guess):
                return _narrowed(ray, low, guess, fine)
            low = guess
        if ray.works(far):
            return _narrowed(ray, low, far, fine)
        low = far
    return None


def _changes_nothing(ray: Ray, near: float, far: float) -> bool:
    """Whether it fails near and far by the same as where it comes from; far alone tells where nothing lies between."""
    even = ray.look.even and len(ray.quantity.helps) == 1
    return all(ray.at(one).alike(ray.at(0.0)) for one in ((far,) if even else (near, far)))


def ends(ray: Ray, room: float, fine: float) -> tuple[float | None, bool]:
    """Give the largest distance up to which it works, to `fine`, and whether beyond it nobody knows.

    None where it works up to room. It works at 0.
    """
    # What only helps one way has no gap on the other: where its far end works, all before it does.
    if len(ray.quantity.helps) == 1 and ray.works(room):
        return None, False
    low = 0.0
    for far in _looks(ray, room):
        if not ray.works(far):
            edge = _narrowed(ray, far, low, fine)
            beyond = min(one for one in ray.known if one > edge)
            unsure = ray.known[beyond].works is None
            return edge, unsure and not _impossible(ray, max(beyond, edge + PROVED * fine))
        low = far
    return None, False


def _impossible(ray: Ray, far: float) -> bool:
    """Whether there is a proof where the look can't say."""
    try:
        return impossible(ray.case.with_(ray.quantity, ray.value(far)))
    except ChoreoError:
        return True


def _looks(ray: Ray, room: float) -> list[float]:
    shares = [share * ray.quantity.size for share in ray.look.shares]
    return [*(far for far in shares if far < room), room]


def _estimate(ray: Ray, low: float, far: float) -> float | None:
    """Where the miss is none by the line through the last two that are known up to low, if that lies before far."""
    before = max((one for one in ray.known if one < low), default=None)
    if before is None:
        return None
    return _zero(ray, before, low, low, far)


def _zero(ray: Ray, first: float, second: float, low: float, high: float) -> float | None:
    """Where the line through two misses meets none, a hair beyond, if that lies well inside (low, high)."""
    one, other = ray.known.get(first), ray.known.get(second)
    if one is None or other is None or one.works is not False or other.works is not False:
        return None
    if not 0.0 < other.miss < one.miss:
        return None
    zero = second + (second - first) * other.miss / (one.miss - other.miss)
    zero += BEYOND * (zero - second)
    return zero if min(low, high) < zero < max(low, high) else None


def _narrowed(ray: Ray, not_yet: float, works: float, fine: float) -> float:
    """Give the working end of an edge between a distance that does not work and one that does.

    By the line through the last two misses in turn with the middle, so that it never takes many more than half of both.
    """
    bad, good = not_yet, works
    earlier: float | None = None
    for turn in range(NARROWING):
        if abs(good - bad) <= fine:
            break
        guess = None
        if turn % 2 == 0 and earlier is not None:
            guess = _zero(ray, earlier, bad, bad, good)
        if guess is not None and ray.works(guess):
            good = guess
            # The estimate was good: a hair before it the edge lies in between.
            guess = good + (bad - good) * min(1.0, 0.9 * fine / abs(good - bad))
        if guess is None:
            guess = (good + bad) / 2.0
        if ray.works(guess):
            good = guess
        else:
            earlier, bad = bad, guess
    return good
