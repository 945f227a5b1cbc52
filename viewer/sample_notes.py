"""What stands in the sample job beside its captures; all of it invented."""

from dataclasses import replace

from loomlight.signal.job import Job
from loomlight.signal.job_records import CostLine, FaultCode, ListedCause, MeterReading
from loomlight.signal.wire_sketch import ProbePoint, Stop, WireSketch

TITLE = "Heater blower runs at full speed only"
BULKHEAD = 2
CODE = FaultCode(
    "B1A41",
    "blower regulator: no communication, now and then",
    status="stored",
    causes=(
        ListedCause("bus wire to the blower regulator", "wire"),
        ListedCause("blower regulator", "component"),
        ListedCause("climate panel", "control unit"),
    ),
)
STOPS = (
    Stop("control unit", "climate panel", "12"),
    Stop("splice", "splice to the flap motor"),
    Stop("connector", "bulkhead connector", "7"),
    Stop("component", "blower regulator", "3"),
)


def with_sample_notes(job: Job, before: str) -> Job:
    """The sample job as a technician would have filled it in.

    Parameters
    ----------
    job : Job
        As it was made.
    before : str
        The job's name for the capture from before the repair.
    """
    return replace(
        job,
        customer="van 12",
        vehicle="Coachling 9-seat (invented)",
        odometer="148 200 km",
        complaint="Blower goes full blast as soon as the ignition is on, worse on bad roads.",
        symptoms="Full speed with ignition on; for a moment the right speed while the loom at the bulkhead is moved.",
        fault_codes=(CODE,),
        tests_made="Supply and ground of the blower regulator measured under load: right.",
        readings=(
            MeterReading("blower regulator, supply to ground, blower running", "12.4", "V", note="ignition on"),
            MeterReading(
                "splice to bulkhead connector, rear side", "0.3", "Ω", note="battery off", from_stop=1, to_stop=2
            ),
        ),
        cause="Corroded pin in the bulkhead connector; water runs along the loom.",
        place="bulkhead connector, pin 7",
        wire=WireSketch(
            STOPS, (ProbePoint(3, before, "blower LIN"), ProbePoint(1, before, "flap LIN")), found_at=2 * BULKHEAD
        ),
        repair="Pin 7 renewed, seal replaced, loom led so that water drips off.",
        after_check="Fault code cleared, blower follows all steps; loom moved at the bulkhead while recording.",
        costs=(
            CostLine("contact, seal", "part", "1", "6.80"),
            CostLine("diagnosis and repair, hours", "labour", "1.5", "64.00"),
        ),
        currency="€",
        tax_percent="19",
        time_spent="1 h 30 min",
    )
