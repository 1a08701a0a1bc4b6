"""What the table of batch sizes says in plain words: the best size for each wish, and what was tried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shopsim.answers.alternatives import CONFIDENCE
from shopsim.answers.wishes import WISHES, Best
from shopsim.answers.wording import join_words, say_confidence, say_count, say_gain, say_hours_gain, say_tolerance
from shopsim.plurals import several
from shopsim.scenario.batches import ordered_of_lines
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import Interval


@dataclass(frozen=True)
class Size:
    """One row: the size asked for, what it comes to on each line, the priority rule, and the alternative it is."""

    asked: int
    actual: tuple[int, ...]
    priority: str
    name: str
    why_not: str = ""

    @property
    def remark(self) -> str:
        """Why it cannot be run; "" where it can."""
        return f"cannot be run: {self.why_not}" if self.why_not else ""


@dataclass(frozen=True)
class SizeWords:
    """Words about the sizes of one comparison. ``made``: pieces of each line; ``room``: pieces under way at once, None: no limit."""

    scenario: Scenario
    sizes: Sequence[Size]
    made: tuple[int, ...]
    room: int | None

    def say_pieces(self, size: Size) -> str:
        """Pieces in a batch, of each line where the lines have no common size."""
        if size.actual == tuple(min(size.asked, n) for n in self.made):
            return f"{size.asked:,}"
        return join_words([f"{n:,}" for n in size.actual], "and")

    def say_size(self, alternative: str) -> str:
        """An alternative: ``batches of 5``; with its priority rule where several are compared."""
        size = next(size for size in self.sizes if size.name == alternative)
        if size.actual == self.made:
            said = f"one batch of all {self.made[0]}" if len(self.made) == 1 else "one batch for each line"
        else:
            said = f"batches of {self.say_pieces(size)}"
        return f"{said} ({size.priority})" if len({one.priority for one in self.sizes}) > 1 else said

    def say_sentence(
        self, runnable: Sequence[str], found: Mapping[str, Best], leads: Mapping[str, Interval | None], searched: bool
    ) -> str:
        """The best of the alternatives that can be run for each wish, and what that is the best of."""
        if not runnable:
            return "None of these batch sizes can be run in this shop; the table says why."
        if len(runnable) == 1:
            only = self.say_size(runnable[0])
            return f"There is nothing to compare: every size that can be run comes to {only}."
        design = self.scenario.lines[0].design if len(self.made) == 1 else "piece"
        parts = [
            self._say_wish(found[measure], leads[measure], text.format(piece=design, pieces=several(design)))
            for measure, text in WISHES
        ]
        return f"{' '.join(parts)} {self._say_tried(runnable)}"

    def say_rest(self, replications: int, searched: bool) -> str:
        """How sure the ranges are, and from how many runs at most."""
        count = say_count(replications, "replication")
        return (
            f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from {'up to ' if searched else ''}{count} on the "
            f"same luck for {'a size' if searched else 'every size'}."
        )

    def _say_tried(self, runnable: Sequence[str]) -> str:
        """What the best is the best of, and in how large a shop."""
        sizes = list(dict.fromkeys(self.say_pieces(size) for size in self.sizes if size.name in runnable))
        room = (
            f"all with room for {say_count(self.room, 'piece')} under way at once"
            if self.room is not None
            else "all with no limit to the pieces under way at once"
        )
        return f"That is of those tried: batches of {join_words(sizes, 'or')}, {room}."

    def _say_wish(self, best: Best, gap: Interval | None, wish: str) -> str:
        if best.all_same:
            return f"{wish} any of them: they came to the same in every run."
        if gap is None:
            likely = join_words([self.say_size(name) for name in best.survivors], "or")
            if best.survivors_same:
                return f"{wish} {likely}, which came to the same in every run."
            count = say_count(best.replications, "replication")
            return f"{wish} {likely}: these cannot be told apart yet at {count}."
        hours = best.measure == "hands_on_h_a_piece"
        if gap.low <= 0 and best.searched:  # a search ends when none can be better by more than what matters
            within = say_tolerance(best.matters, hours)
            return f"{wish} {self.say_size(best.survivors[0])}, which is the best or within {within} of it."
        if gap.low <= 0:
            return (
                f"{wish} {self.say_size(best.survivors[0])}, though by how much over {self.say_size(best.second)} cannot "
                f"be told yet at {say_count(best.replications, 'replication')}."
            )
        gain = say_hours_gain(gap) if hours else say_gain(gap)
        return f"{wish} {self.say_size(best.survivors[0])}, by {gain} over {self.say_size(best.second)}."

    def list_notes(self, too_large: Sequence[int]) -> tuple[str, ...]:
        """What to read beside the table. ``too_large``: sizes that were asked for and are more than there is to make."""
        ordered, made = sum(ordered_of_lines(self.scenario)), sum(self.made)
        notes = ["Ship days count from the day orders close; averages are over the orders."]
        if made > ordered:
            spare = made - ordered
            notes.append(
                f"{say_count(ordered, 'piece')} ordered, {made:,} made whatever the batch size: "
                f"{spare} {'is' if spare == 1 else 'are'} spare."
            )
        if too_large:
            all_of = f"the {max(self.made):,} to make" if len(self.made) == 1 else "any line makes"
            notes.append(
                f"A batch of {join_words([f'{size:,}' for size in too_large], 'or')} is more than {all_of}: it is one "
                f"batch of all, and adds no piece."
            )
        notes += [f"A batch of {size.asked}: {size.remark}." for size in self.sizes if size.remark]
        return tuple(dict.fromkeys(notes))
