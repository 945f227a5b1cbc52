"""What a job keeps of thousands of findings: the weightiest themselves, and the number of all."""

from loomlight.signal.finding import Finding
from loomlight.signal.job import JobVerdict
from loomlight.signal.job_findings import MOST_KEPT, tallies_of, weightiest
from loomlight.signal.verdict import Verdict

LONG_S = 0.5


def dropout(at_s: float, length_s: float = 1e-4, *, severe: bool = False, channel: str = "bus") -> Finding:
    severity = "severe" if severe else "mild"
    return Finding("dropout", channel, at_s, at_s + length_s, 9.5, "V", "let go", severity)


MANY = [dropout(float(at), severe=at in (7, 4999)) for at in range(5000)]
MANY[2500] = dropout(2500.0, LONG_S)


def test_severe_and_long_ones_are_kept_in_their_order() -> None:
    kept = weightiest(MANY)
    assert len(kept) == MOST_KEPT
    assert {MANY[7], MANY[2500], MANY[4999]} <= set(kept)
    assert list(kept) == sorted(kept, key=lambda one: one.start_s)


def test_few_are_kept_as_they_are() -> None:
    assert weightiest(MANY[:5]) == tuple(MANY[:5])


def test_a_verdict_tells_of_all_of_them() -> None:
    others = [dropout(1.0, channel="other"), Finding("spike", "bus", 1.0, 1.0, 3.0, "V", "sharp", "mild")]
    found = [*MANY, *others]
    verdict = JobVerdict(
        "a.csv",
        "bus",
        "",
        "lin",
        "",
        Verdict("faulty", "open", ("why",)),
        weightiest(found),
        tallies=tallies_of(found, "bus"),
    )
    dropouts, spikes = verdict.all_findings()
    assert (dropouts.kind, dropouts.count, dropouts.severe, dropouts.longest_s) == ("dropout", 5000, 2, LONG_S)
    assert (spikes.kind, spikes.count) == ("spike", 1)


def test_a_job_of_before_is_counted_from_its_findings() -> None:
    before = JobVerdict("a.csv", "bus", "", "lin", "", Verdict("faulty", "open", ("why",)), tuple(MANY[:9]))
    assert [(one.kind, one.count, one.severe) for one in before.all_findings()] == [("dropout", 9, 1)]
