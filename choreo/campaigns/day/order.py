"""In which order the stagings go: exact where they are few, else the best found and by how much it may miss the best.

The runs of a staging stay together, in the order of the file; those that go first go before all others. Exact by
dynamic programming over sets of stagings, cut where a bound says that nothing better lies beyond. Source: Held and Karp
1962; from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field

from choreo.campaigns.day.bound import Left, earliest_end, left_of
from choreo.campaigns.day.driving import Driving, State, morning
from choreo.campaigns.day.records import Entry, Job, Rules, Timetable
from choreo.words.records import dataclass

# Runs that are driven in thought before the search gives up; stagings of which every order is looked at.
MOST_DRIVEN = 150_000
MOST_EXACT = 12
# Runs that are driven in thought while orders are improved step by step.
MOST_IMPROVING = 60_000
# Ends that differ by less (s) are the same; no order is looked for that is done earlier by less than WITHIN_S.
SAME_S = 1e-6
WITHIN_S = 30.0

# Indices of jobs that are driven one after the other.
Block = tuple[int, ...]


def timetable(rules: Rules, jobs: Sequence[Job], within_s: float = WITHIN_S) -> Timetable:
    """Order the runs so that the last one is back as early as it can be, and time them.

    Days go on as long as there are runs. within_s: what an order must gain to be worth a change. Raises ValueError: a
    run is longer than any stretch without a pause.
    """
    blocks = blocks_of(jobs)
    search = _Search(rules, jobs, blocks)
    order = search.improved(tuple(range(len(blocks))))
    bound_s = earliest_end(rules, morning(rules), left_of(rules, jobs))
    best_s = search.end_s(order)
    exact = best_s <= bound_s + max(within_s, SAME_S)
    if not exact and len(blocks) <= MOST_EXACT:
        found = search.least(best_s - max(within_s, SAME_S))
        if found is not None:
            order, exact = found or order, True
    entries = in_order(rules, jobs, [blocks[index] for index in order])
    end_s = _end(entries)
    return Timetable(
        entries, min(max(bound_s, end_s - within_s), end_s) if exact else bound_s, exact
    )


def blocks_of(jobs: Sequence[Job]) -> tuple[Block, ...]:
    """Group jobs by staging, in the order in which the file has them; what goes first apart from the rest."""
    found: dict[tuple[bool, int], list[int]] = {}
    for first in (True, False):
        for index, job in enumerate(jobs):
            if job.first == first and job.tries:
                found.setdefault((not first, job.staging), []).append(index)
    return tuple(tuple(block) for block in found.values())


def in_order(rules: Rules, jobs: Sequence[Job], blocks: Sequence[Block]) -> tuple[Entry, ...]:
    """Time the runs of blocks, one after the other."""
    driving, state, entries = Driving(rules, jobs), morning(rules), list[Entry]()
    for block in blocks:
        state, driven = _through(driving, state, block)
        entries += driven
    return tuple(entries)


def blocks_in(entries: Sequence[Entry], jobs: Sequence[Job]) -> tuple[Block, ...]:
    """Give the blocks of a timetable in its order."""
    blocks = {index: block for block in blocks_of(jobs) for index in block}
    return tuple(dict.fromkeys(blocks[entry.job] for entry in entries))


def _end(entries: Sequence[Entry]) -> float:
    return entries[-1].back_s if entries else 0.0


def _through(driving: Driving, state: State, block: Block) -> tuple[State, list[Entry]]:
    """Drive a block from a state; give the state after it, and its runs."""
    entries = []
    for index in block:
        for number in range(1, driving.jobs[index].tries + 1):
            state, entry = driving.next(state, index, number)
            entries.append(entry)
    return state, entries


@dataclass()
class _Search:
    rules: Rules
    jobs: Sequence[Job]
    blocks: Sequence[Block]
    driven: int = 0
    lefts: dict[int, Left] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.driving = Driving(self.rules, self.jobs)

    def after(self, state: State, block: int) -> State:
        """Drive a whole block in thought."""
        after, driven = _through(self.driving, state, self.blocks[block])
        self.driven += len(driven)
        return after

    def end_s(self, order: Sequence[int]) -> float:
        """When all is done in an order of blocks."""
        state = morning(self.rules)
        for block in order:
            state = self.after(state, block)
        return state.back_s

    def improved(self, order: tuple[int, ...]) -> tuple[int, ...]:
        """Move one block to another place as long as that helps and time is left; first ones stay first."""
        best_s = self.end_s(order)
        better = True
        while better and self.driven < MOST_IMPROVING:
            better = False
            for moved in self._moved(order):
                end_s = self.end_s(moved)
                if end_s < best_s - SAME_S:
                    order, best_s, better = moved, end_s, True
                    break
                if self.driven >= MOST_IMPROVING:
                    break
        return order

    def _moved(self, order: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        for here in range(len(order)):
            rest = (*order[:here], *order[here + 1 :])
            for there in range(len(order)):
                moved = (*rest[:there], order[here], *rest[there:])
                if moved != order and self._first_first(moved):
                    yield moved

    def _first_first(self, order: Sequence[int]) -> bool:
        later = [not self._first(block) for block in order]
        return later == sorted(later)

    def _first(self, block: int) -> bool:
        return self.jobs[self.blocks[block][0]].first

    def least(self, best_s: float) -> tuple[int, ...] | None:
        """Give the order that is done first, () if none is before best_s, None where that takes too long to say."""
        self.driven = 0
        whole = (1 << len(self.blocks)) - 1
        start = morning(self.rules)
        layer: dict[tuple[int, State], tuple[State, tuple[int, ...]]] = {(0, start): (start, ())}
        found: tuple[int, ...] = ()
        for _ in self.blocks:
            following: dict[tuple[int, State], tuple[State, tuple[int, ...]]] = {}
            for (done, _key), (state, order) in layer.items():
                for block in self._allowed(done):
                    after = self.after(state, block)
                    if self.driven > MOST_DRIVEN:
                        return None
                    with_it = done | 1 << block
                    left = self._left(whole & ~with_it)
                    if earliest_end(self.rules, after, left) >= best_s:
                        continue
                    if with_it == whole:
                        best_s, found = after.back_s, (*order, block)
                        continue
                    key = with_it, _rounded(after)
                    known = following.get(key)
                    if known is None or after.back_s < known[0].back_s:
                        following[key] = after, (*order, block)
            layer = following
        return found

    def _allowed(self, done: int) -> list[int]:
        left = [block for block in range(len(self.blocks)) if not done >> block & 1]
        first = [block for block in left if self._first(block)]
        return first or left

    def _left(self, mask: int) -> Left:
        if mask not in self.lefts:
            jobs = [
                self.jobs[index]
                for block in range(len(self.blocks))
                if mask >> block & 1
                for index in self.blocks[block]
            ]
            self.lefts[mask] = left_of(self.rules, jobs)
        return self.lefts[mask]


def _rounded(state: State) -> State:
    """All of a state but when it is: of equal ones only the earliest needs to be followed."""
    used = tuple(one._replace(way_m=round(one.way_m, 6)) for one in state.used)
    back_s = round(state.back_s - (state.end_s or 0.0), 6)
    return State(None, back_s, state.staging, used)
