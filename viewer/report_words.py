"""Every text of the report, in one place: a translation is one file like this."""

from loomlight.signal.job_records import CodeStatus, Part
from loomlight.signal.verdict import Verdict

REPORT = "Report"
PAGE = "Page {number} of {count}"
MADE = "made {date} with Loomlight {version}"
FOOT = (
    "Measurements of that day, at the named points. The vehicle maker's procedure and local codes apply. This is not a "
    "statement that the vehicle is safe to drive."
)

# Page one, for the customer

CUSTOMER, VEHICLE, VIN, ODOMETER, TECHNICIAN, DATE = (
    "Customer",
    "Vehicle",
    "Identification number",
    "Odometer",
    "Technician",
    "Date of the visit",
)
TOLD_US = "What you told us"
FOUND = "What we found"
DID = "What we did"
HOW_WE_KNOW = "How we know"
COST = "What it cost"
FOUND_AT = "The place: {place}."
NOTHING_FOUND_YET = "The cause is not written down yet."
NOTHING_DONE_YET = "Nothing was mended yet."
CHECKED_AFTER = "Checked afterwards: {text}"
PARTS_AND_LABOUR = "Parts and labour"
PARTS, LABOUR, TAX, TOTAL = "Parts", "Labour", "Tax {percent} %", "Total"
COST_HEAD = ("Item", "Quantity", "Price each", "Amount")
OPEN_COSTS = "Lines without a number, not in the total: {count}."

PROVEN = (
    "We recorded the same signal before and after the repair and held the two against each other, check by check. "
    "The fault was caught before; it did not show afterwards."
)
NOT_PROVEN = "The recording after the repair still shows something wrong. The repair is not proven."
CANNOT_TELL = "The recordings do not yet tell whether the repair holds: {reason}"
OPEN = "There is no recording from after the repair yet, so the repair is not proven."
COUNTED = "Before: {before} short failures in {before_length}. After: {after} in {after_length}."
NONE = "none"
AS_FREQUENT = "A fault as frequent as before would have shown with at least 95 %."
LANE_BEFORE, LANE_AFTER = "{channel}, before the repair", "{channel}"
PICTURE = "Before (above) and after the repair (below): the same wire, the same moment of its message, the same scales."
ARROW_LIMIT = "{number}  The grey line, {value}: a sound signal goes clearly {side} it, each time."
ABOVE, BELOW = "above", "below"
ARROW_AFTER_RIGHT = "{number}  After the repair, at the same moment of the message: the signal is as it should be."
ARROW_AFTER_WRONG = "{number}  After the repair, at the same moment of the message."
ARROW_BEFORE = {
    "dropout": "{number}  Before: the signal should stay low here. The wire lets go, for {length}, and the message is spoiled.",
    "weak dominant": "{number}  Before: the signal should go lower here. It does not get through far enough.",
    "weak recessive": "{number}  Before: the signal should go higher here. It does not get through far enough.",
    "too high": "{number}  Before: the signal is above its limit here.",
    "too low": "{number}  Before: the signal is below its limit here.",
}
ARROW_BEFORE_OTHER = "{number}  Before: here the signal is not as it should be ({kind}, {length})."
MEASURED = "What the measurement says"

PLAIN_FAULTS = {
    "open": "a wire that is interrupted",
    "resistive": "a bad contact: part of the signal gets lost on the way",
    "unknown": "a signal that leaves its limits",
}
PLAIN_SHORTS = {
    "ground": "a wire that touches the vehicle's body (ground)",
    "battery": "a wire that touches the battery's supply",
    "other wire": "a wire that touches another wire",
}
PLAIN_SHORT = "a wire that touches something it should not"
COMES_AND_GOES = "It comes and goes, which is why it was hard to catch."


def plain_verdict(verdict: Verdict, channel: str) -> str:
    """What a verdict means to somebody who does not know the trade."""
    if verdict.state == "clean":
        return f"The measured signal ({channel}) is as it should be."
    if verdict.state == "cannot tell":
        return f"The measurement of {channel} does not tell yet what is wrong."
    if verdict.picture and verdict.fault == "unknown":
        return f"The measurement of {channel} shows: {verdict.picture}." + (
            f" {COMES_AND_GOES}" if verdict.intermittent else ""
        )
    if verdict.fault == "short":
        what = PLAIN_SHORTS.get(verdict.short_to or "", PLAIN_SHORT)
    else:
        what = PLAIN_FAULTS.get(verdict.fault, PLAIN_FAULTS["unknown"])
    return f"The measurement of {channel} shows {what}." + (f" {COMES_AND_GOES}" if verdict.intermittent else "")


# The technical record

RECORD = "Technical record"
NOTES = "Noted on the job"
SYMPTOMS, TESTS_MADE, TIME_SPENT, JOB_FOLDER, MADE_ON, CHANGED_ON = (
    "Symptoms",
    "Tests made",
    "Time on the job",
    "Job folder",
    "Job made",
    "Last change",
)
CODES = "Fault codes"
CODE_HEAD = ("Code", "Meaning", "Status, time", "Listed as possible")
STATUS: dict[CodeStatus, str] = {
    "": "",
    "active": "active",
    "stored": "stored",
    "pending": "pending",
    "cleared": "cleared",
}
STANDINGS = "What the evidence says of the listed causes"
STANDING_HEAD = ("Suspect", "Stands", "Why")
PART_WORDS: dict[Part, str] = {
    "wire": "wire",
    "component": "component",
    "control unit": "control unit",
    "other": "other",
}
READINGS = "Meter readings"
READING_HEAD = ("Place", "Value", "Note")
WIRE = "The wire, from end to end"
SUSPICION = "Under suspicion after the measurements: {places}."
CONTRADICTION = "The measurements contradict each other about the place."
FOUND_HERE = "Found at: {place}."
VERDICTS = "Verdicts"
VERDICT_OF = "{channel} in {file}"
NO_GOOD = "judged against the limits alone"
FINDING_HEAD = ("Finding", "How many", "Severe", "Largest", "Longest")
CHECKS = "Before and after, check by check"
PROOF_OF = "{channel}: {before} against {after}"
CONDITIONS = "Conditions of the two recordings"
CONDITION_HEAD = ("Condition", "Before", "After", "Same")
SAME_WORDS = {True: "✓ yes", False: "✗ no", None: "? not known"}
LIMITS = "Limits and where they come from"
LIMIT_HEAD = ("Limit", "Value", "Source")
PHOTOS = "Photos"
SNAPSHOTS = "Pictures of the recordings"
FILES = "Files and their check sums (SHA-256)"
FILES_SAY = "A file whose check sum is the one below has not been altered since it came into the job."
FILE_HEAD = ("File", "Use, came in as", "SHA-256")
SETTINGS = "Settings of each verdict"
SETTING_HEAD = ("About", "Signal kind", "Known-good", "Judged")
CAUTIONS = "Cautions"
MISSING = "{name}: the file is not in the folder any more, or cannot be read."
