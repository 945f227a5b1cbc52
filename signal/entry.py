"""One known-good waveform in the library, with what it was taken from."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """What is known about a known-good waveform.

    Attributes
    ----------
    id : str
        A UUID, also the file's name.
    title : str
        Never empty.
    kind : str
        Key of the signal kind.
    channel : str
        Name of the channel in the capture that is the known-good one.
    vehicle, system, component, connector, pin, note : str
        Where it was taken; empty where not known.
    added : str
        ISO 8601 time with offset.
    source_name : str
        The file that it came from.
    """

    id: str
    title: str
    kind: str
    channel: str
    vehicle: str = ""
    system: str = ""
    component: str = ""
    connector: str = ""
    pin: str = ""
    note: str = ""
    added: str = ""
    source_name: str = ""
