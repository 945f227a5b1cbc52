"""What was changed in a job's notes, step by step, so that each can be taken back and made again."""

from dataclasses import dataclass, fields, replace
from typing import Any

from loomlight.signal.job import Job

NOT_BY_HAND = ("created", "changed", "captures", "verdicts", "snapshots", "state")
"""What the work itself adds; it is taken back where it was made."""
WORDS = {
    "vin": "identification number",
    "after_check": "after-check",
    "place": "place of the fault",
    "wire": "wire",
    "cautions_seen": "cautions read",
    "tax_percent": "tax",
}
MOST_STEPS = 200


@dataclass(frozen=True)
class Step:
    """One change: the fields that were changed, before and after."""

    before: dict[str, Any]
    after: dict[str, Any]

    @property
    def words(self) -> str:
        """What was changed."""
        return ", ".join(WORDS.get(name, name.replace("_", " ")) for name in self.before)


class JobPast:
    """Steps of one job; what is typed on in the same texts, without a pause between, is one step."""

    def __init__(self) -> None:
        self._seen: Job | None = None
        self._undone: list[Step] = []
        self._steps: list[Step] = []
        self._is_open = False

    def begin(self, job: Job) -> None:
        """Another job: nothing can be taken back yet."""
        self._seen, self._steps, self._undone, self._is_open = job, [], [], False

    def see(self, job: Job) -> None:
        """The job as it is now; what was changed since is a step."""
        before, self._seen = self._seen, job
        if before is None:
            return
        names = [one.name for one in fields(Job) if one.name not in NOT_BY_HAND]
        changed = [name for name in names if getattr(before, name) != getattr(job, name)]
        if not changed:
            return
        step = Step({name: getattr(before, name) for name in changed}, {name: getattr(job, name) for name in changed})
        last = self._steps[-1] if self._steps else None
        is_text = all(isinstance(value, str) for value in step.after.values())
        if self._is_open and is_text and last is not None and last.after.keys() == step.after.keys():
            self._steps[-1] = Step(last.before, step.after)
        else:
            self._steps = [*self._steps[-MOST_STEPS:], step]
        self._undone, self._is_open = [], True

    def close(self) -> None:
        """A field was left: what is typed next is a step of its own."""
        self._is_open = False

    @property
    def to_undo(self) -> Step | None:
        """What would be taken back."""
        return self._steps[-1] if self._steps else None

    @property
    def to_redo(self) -> Step | None:
        """What would be made again."""
        return self._undone[-1] if self._undone else None

    def undone(self, job: Job) -> Job:
        """The job without the last step; what came in beside it stays."""
        step = self._steps.pop()
        self._undone.append(step)
        return self._changed(job, step.before)

    def redone(self, job: Job) -> Job:
        """The job with the step that was taken back."""
        step = self._undone.pop()
        self._steps.append(step)
        return self._changed(job, step.after)

    def _changed(self, job: Job, values: dict[str, Any]) -> Job:
        self._is_open = False
        self._seen = replace(job, **values)
        return self._seen
