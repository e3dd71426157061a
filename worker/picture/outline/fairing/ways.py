"""Along lines: which place is so many steps from another, round rings and up to what stays.

Means along a line need places before and after each. At the end of a line, and at a place that
stays where it is, the line goes on as if it were turned about it, so that it neither shrinks nor
bends there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats, Ints, Polylines


@dataclass(frozen=True, kw_only=True)
class Ways:
    """For each place the ends of its line, and how many steps there are to what stays.

    Attributes:
        begin, end: First and last place of its line.
        ring: Whether that is closed.
        back, ahead: Steps to the place before and after that stays, an end is one; on rings
            without any as many as there are places.
    """

    begin: Ints
    end: Ints
    ring: Flags
    back: Ints
    ahead: Ints

    @classmethod
    def of(cls, lines: Polylines, stays: Flags) -> Ways:
        """Of all places of lines, of which some stay."""
        owner, at = lines.owner, np.arange(len(lines.places))
        begin, end = lines.first[owner], lines.first[owner + 1] - 1
        ring, many = lines.closed[owner], len(at)
        stays = stays | (((at == begin) | (at == end)) & ~ring)
        before = np.maximum.accumulate(np.where(stays, at, -1))
        after = np.minimum.accumulate(np.where(stays, at, many)[::-1])[::-1]
        # Round a ring it is from the last that stays to the first one.
        last, first = before[end], after[begin]
        back = np.where(before >= begin, at - before, at - begin + end - last)
        ahead = np.where(after <= end, after - at, end - at + first - begin)
        none = last < begin
        return cls(
            begin=begin,
            end=end,
            ring=ring,
            back=np.where(none, many, back),
            ahead=np.where(none, many, ahead),
        )

    def reached(self, steps: int) -> Ints:
        """The place so many steps after each, or before; no further than the ends of lines."""
        return self._within(np.arange(len(self.begin)) + steps, slice(None))

    def mirrored(self, steps: int) -> tuple[Ints, Ints, Ints]:
        """The same, where a line goes on beyond what stays as if it were turned about it.

        Returns:
            The places, for which of all places the way is turned, and about which each of these.
        """
        most = self.back if steps < 0 else self.ahead
        far, sign = abs(steps), 1 if steps > 0 else -1
        beyond = np.flatnonzero(far > most)
        inner = np.minimum(far - most[beyond], (self.back + self.ahead)[beyond])
        at = self.reached(steps)
        at[beyond] = self._within(beyond + sign * (most[beyond] - inner), beyond)
        return at, beyond, self._within(beyond + sign * most[beyond], beyond)

    def most_within(self, values: Floats, reach: int) -> Floats:
        """The largest value within so many steps."""
        most, done = values, 0
        while done < reach:
            # What is known to either side of a place is known to either side of two others.
            step = min(2 * done + 1, reach - done)
            before, after = most.take(self.reached(-step)), most.take(self.reached(step))
            most = np.maximum(most, np.maximum(before, after))
            done += step
        return most

    def means_within(self, values: Floats, reach: int) -> Floats:
        """Means over so many steps to either side, no further than the ends of lines."""
        total, at = np.concatenate(([0.0], np.cumsum(values))), np.arange(len(values))
        low, high = np.maximum(at - reach, self.begin), np.minimum(at + reach, self.end) + 1
        sums, count = total.take(high) - total.take(low), high - low
        for past, before in ((reach - at + self.begin, True), (reach - self.end + at, False)):
            more = np.flatnonzero(self.ring & (past > 0))
            many = np.minimum(past[more], (self.end - self.begin)[more])
            # The last place of a ring is its first one, and counts once.
            one = np.where(before, self.end[more] - many, self.begin[more] + 1)
            sums[more] += total[one + many] - total[one]
            count[more] += many
        return np.asarray(sums / count)

    def _within(self, at: Ints, of: Ints | slice) -> Ints:
        """Places that may be beyond their lines: round rings, or at the ends."""
        begin, end = self.begin[of], self.end[of]
        found = np.minimum(np.maximum(at, begin), end)
        # A remainder takes as long as all else, and most lines are no rings.
        rings = np.flatnonzero(self.ring[of])
        start = begin[rings]
        found[rings] = start + (at[rings] - start) % np.maximum(end[rings] - start, 1)
        return found
