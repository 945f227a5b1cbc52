"""An example of every text layout that instruments and loggers are known to write, each with its exact answer.

All numbers are made. The examples are also the seeds from which files are spoiled and generated in other tests.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from loomlight.storage.reading import NOTHING_SAID, Reading

COUNT = 120
NAN = float("nan")


@dataclass(frozen=True)
class Wire:
    """What one channel must come out as."""

    name: str
    unit: str | None
    start_s: float
    step_s: float | None
    first: tuple[float, ...]
    samples: int = COUNT
    form: str = "even"
    gaps: tuple[tuple[int, int], ...] = ()
    clipped: tuple[tuple[int, int], ...] = ()
    segments: int = 1
    step_within: float = 1e-6
    """Relative; what the digits of the time column allow."""
    times_s: tuple[float, ...] = ()


@dataclass(frozen=True)
class Example:
    """A file and what it must be read as."""

    content: bytes = field(repr=False)
    wires: tuple[Wire, ...]
    notes: tuple[str, ...] = ()
    """Words that must stand in the notes."""
    asks: tuple[str, ...] = ()
    """What the open questions are about, in order."""
    reading: Reading = NOTHING_SAID


def volts(place: int) -> float:
    """A wire that goes up and down; never twice the same neighbour in the last digit but in runs."""
    return 11.92 if place // 10 % 2 == 0 else 0.96


def ripple(place: int) -> float:
    """A small value that repeats every five samples."""
    return round(0.04 * (place % 5), 2)


def rows(line: Callable[[int], str], count: int = COUNT) -> str:
    """One line for each sample."""
    return "".join(line(place) for place in range(count))


def _clock(second: int, start: str = "10") -> str:
    hours, rest = divmod(int(start) * 3600 + 900 + second, 3600)
    return f"{hours:02d}:{rest // 60:02d}:{rest % 60:02d}"


BESIDE = (
    "Record Length,1.200000e+02",
    "Sample Interval,4.000000e-06",
    "Trigger Point,6.000000000000e+01",
    ",",
    "Source,{name}",
    "Vertical Units,{unit}",
    "Probe Atten,1.000000e+01",
)


def _beside(place: int, name: str = "CH2", unit: str = "V") -> str:
    return BESIDE[place].format(name=name, unit=unit) if place < len(BESIDE) else ","


def _block(place: int, name: str) -> str:
    keys = ("Record Length,120,Points", "Sample Interval,1.000000E-6,s", "Trigger Point,60.000001,Samples", ",,",
            f"Source,{name},", "Vertical Units,V,")  # fmt: skip
    return keys[place] if place < len(keys) else ",,"


def _sectioned(block: int, blocks: int, *, stars: bool = True) -> str:
    end = "***End_of_Header***\t\n"
    head = (
        "Measurement file\t\nSeparator\tTab\nDecimal_Separator\t,\nDate\t2024/03/03\nNotes\tL\u00fcfter vorn\n"
        + end
        + f"Channels\t2\t\t\t\nSamples\t{block}\t{block // 2}\t\t\nY_Unit_Label\tVolts\tVolts\t\t\n"
        + "X0\t0,0000E+0\t0,0000E+0\t\t\nDelta_X\t1,000000E-5\t2,000000E-5\t\t\n"
        + (end if stars else "")
        + "X_Value\tbus\tsensor\tComment\n"
    )
    body = "".join(
        f"{place * 1e-5:.6E}\t{volts(place + number) + 0.0012:.6f}\t"
        + (f"{ripple(place) + 2:.6f}\n" if place < block // 2 else "\n")
        for number in range(blocks)
        for place in range(block)
    )
    return head + body.replace(".", ",")


def _segments(count: int, size: int) -> str:
    offsets = [0.41 * number for number in range(count)]
    return (
        f"Recorder one,rack 7,Waveform\nSegments,{count},SegmentSize,{size}\nSegment,TrigTime,TimeSinceSegment1\n"
        + "".join(f"#{number + 1},03 Mar 2024 {_clock(number)},{offset:.6f}\n" for number, offset in enumerate(offsets))
        + "Time,Ampl\n"
        + "".join(
            f"{place * 1e-6 - 2e-5:.8f},{volts(place + number):.4f}\n"
            for number in range(count)
            for place in range(size)
        )
    )


def _stacked(name: str, value: Callable[[int], float], count: int) -> str:
    return f"#CHANNEL:{name}\n#CLOCK=20.0uS\n#SIZE={count}\n#UNITS:V\n\n" + rows(lambda p: f"{value(p):.3f}\n", count)


def _per_channel_times(place: int) -> str:
    base = 1709460942.118016
    one = f"{base + 0.01 * place + (place % 3) * 0.0004:.10f}, {volts(place):.2f}"
    return f"{one}, {base + 0.03 * place:.10f}, {place // 20 % 2}\n" if place < 40 else f"{one}, , \n"


MARKS = {3: "Overload", 4: "****", 5: "1.#INF", 6: "9.9E37", 9: "-1.#INF", 11: "---"}
CHANGES = ((0.0, 0, 0), (1.20411825, 1, 0), (1.208930125, 0, 0), (1.297340875, 0, 1), (1.5, 1, 1), (1.75, 0, 1))

EXAMPLES: dict[str, Example] = {
    "L1 preamble beside the data": Example(
        rows(
            lambda p: f"{_beside(p)},,{'-00.' if p > 3 else '  -0.'}{4000 - 4 * p:06d}000000,  {volts(p):.5f},\n"
        ).encode(),
        (Wire("CH2", "V", -0.004, 4e-6, (11.92,)),),
        ("Probe factor in the file: 1.000000e+01", "as the preamble states"),
    ),
    "L2 the same after human hands": Example(
        (
            ",,,zeit,spannung,\n" + rows(lambda p: f"{_beside(p)},,{4e-6 * p - 0.004:.6g},{volts(p):.2f}\n")
        ).encode(),
        (Wire("spannung", "V", -0.004, 4e-6, (11.92,)),),
    ),
    "L2 a title row of six cells over five": Example(
        ("a,b,c,x,y,d\n" + rows(lambda p: f"{_beside(p)},,{4e-6 * p - 0.004:.6g},{volts(p):.2f}\n")).encode(),
        (Wire("y", "V", -0.004, 4e-6, (11.92,)),),
    ),
    "L3 blocks side by side": Example(
        rows(
            lambda p: f"{_block(p, 'CH1')},{p - 600.000002:.6f}E-6,{volts(p)},,"
            f"{_block(p, 'CH2')},{p - 600.000002:.6f}E-6,{ripple(p) * 1000:.2f}E-3,\n"
        ).encode(),
        (Wire("CH1", "V", -600.000002e-6, 1e-6, (11.92,)), Wire("CH2", "V", -600.000002e-6, 1e-6, (0.0, 0.04))),
    ),
    "L4 index, start and increment in the header": Example(
        (
            "X,CH1,CH2,Start,Increment,\nSequence,Volt,Volt,-2.500000e-03,1.000000e-06\n"
            + rows(lambda p: f"{p},{volts(p):.2e},{ripple(p):.1e},\n")
        ).encode(),
        (Wire("CH1", "V", -2.5e-3, 1e-6, (11.9,)), Wire("CH2", "V", -2.5e-3, 1e-6, (0.0, 0.04))),
        ("only counts the rows",),
    ),
    "L4 re-saved by a script": Example(
        (
            "X,CH1,CH2,Start,Increment,Unnamed: 5,power\nSequence,Volt,Volt,-2.5e-03,1e-06,,\n"
            + rows(lambda p: f"{p}.0,{volts(p)},{ripple(p)},,,,{volts(p) * 2:.2f}\n")
        ).encode(),
        (
            Wire("CH1", "V", -2.5e-3, 1e-6, (11.92,)),
            Wire("CH2", "V", -2.5e-3, 1e-6, (0.0, 0.04)),
            Wire("power", None, -2.5e-3, 1e-6, (23.84,)),
        ),
        asks=("unit",),
    ),
    "L5 no index either": Example(
        (
            "CH1,CH2,Start,Increment,\nVolt,Volt,-5.00000e-02,5.00000e-05\n"
            + rows(lambda p: f"{volts(p):.5e},{ripple(p):.5e},\n")
        ).encode(),
        (Wire("CH1", "V", -5e-2, 5e-5, (11.92,)), Wire("CH2", "V", -5e-2, 5e-5, (0.0, 0.04))),
    ),
    "L6 names row, units row, ragged end": Example(
        (
            ",CH1,CH3\r\nSecond,Volt,Volt\r\n"
            + rows(lambda p: f"{2e-6 * p - 1e-2:.5e},{volts(p):.2e},{ripple(p):.2e}, \r\n")
        ).encode(),
        (Wire("CH1", "V", -1e-2, 2e-6, (11.9,)), Wire("CH3", "V", -1e-2, 2e-6, (0.0, 0.04))),
    ),
    "L6 re-saved with three digits": Example(
        ("Time,X(CH1),\nSecond,Volt,\n" + rows(lambda p: f"{-7.4e-5 + 2.5e-8 * p:.2e},{volts(p):.2e}\n")).encode(),
        (Wire("X(CH1)", "V", -7.4e-5, 2.5e-8, (11.9,), step_within=0.05),),
        ("repeat the one before", "the step is good to"),
    ),
    "L7 source row, quantity row": Example(
        (
            "Record Length,Analog:120\nSample Interval,CH1:0.0000020000\nVertical Units,CH1:V CH4:V,,\n"
            "Horizontal Units,us\nSource,CH1,CH4\nSecond,Volt,Volt\n"
            + rows(
                lambda p: f"{2e-6 * p - 0.002 + 5e-11 * (p % 3 - 1): .11f},{ripple(p):.5f},{volts(p):.5f}\n"
            )
        ).encode(),
        (
            Wire("CH1", "V", -0.00200000005, 2e-6, (0.0, 0.04)),
            Wire("CH4", "V", -0.00200000005, 2e-6, (11.92,)),
        ),
    ),
    "L8 axis row, engineering exponents, packed logic": Example(
        (
            "x-axis,1,2,D0-D7\nsecond,Volt,Volt,\n"
            + rows(
                lambda p: f"{5e-4 * p - 2:.5f}E-03,"
                + (",," if p < 2 else f"{volts(p):+.2f}E+00,{ripple(p) * 1000:+.3f}E-03,")
                + f"{p % 7}\n"
            )
        ).encode(),
        (
            Wire("CH 1", "V", -2e-3, 5e-7, (NAN, NAN, 11.92), gaps=((0, 2),)),
            Wire("CH 2", "V", -2e-3, 5e-7, (NAN, NAN, 0.08), gaps=((0, 2),)),
            Wire("D0-D7", None, -2e-3, 5e-7, (0.0, 1.0, 2.0)),
        ),
        ("CH 1: 2 samples are not acquired", "eight logic signals"),
    ),
    "L8 with channels off and segments": Example(
        (
            "60 points,,\nx-axis,1,4\nsecond,Volt,Volt\n"
            + rows(lambda p: f"{(p % 60) * 0.5 - 20:.5f}E-06,{volts(p):+.2f}E+00,{ripple(p) * 1000:+.3f}E-03\n")
        ).encode(),
        (
            Wire("CH 1 · segment 1", "V", -2e-5, 5e-7, (11.92,), 60, segments=2),
            Wire("CH 1 · segment 2", "V", -2e-5, 5e-7, (11.92,), 60, segments=2),
            Wire("CH 4 · segment 1", "V", -2e-5, 5e-7, (0.0, 0.04), 60, segments=2),
            Wire("CH 4 · segment 2", "V", -2e-5, 5e-7, (0.0, 0.04), 60, segments=2),
        ),
        ("2 segments",),
    ),
    "L9 long preamble, labels, unit by channel": Example(
        (
            "Instrument,model\nFirmware Version,1.0\n\nWaveform Type,ANALOG,\nHorizontal Units,s,\n"
            "Sample Interval,5e-06,\nRecord Length,120,\nProbe Attenuation,10,1\nVertical Units,V,A\n"
            "Vertical Offset,0,0\n,,\nLabel,battery,starter\nTIME,CH1,CH2\n"
            + rows(
                lambda p: f"{5e-6 * p - 5e-2:.5e},{'nan' if p < 70 else volts(p)},{'nan' if p < 70 else ripple(p)}\n"
            )
        ).encode(),
        (
            Wire("battery", "V", -5e-2, 5e-6, (NAN,), gaps=((0, 70),)),
            Wire("starter", "A", -5e-2, 5e-6, (NAN,), gaps=((0, 70),)),
        ),
        ("Probe factor in the file: 10, 1", "battery: 70 samples are not acquired"),
    ),
    "L9 peak detect": Example(
        (
            "Sample Interval,1e-05\nVertical Units,V\n,,\nTIME,CH1,CH1 Peak Detect\n"
            + rows(lambda p: f"{1e-5 * p:.5e},{5 + (-1) ** p},5\n")
        ).encode(),
        (Wire("CH1", "V", 0.0, 1e-5, (5, 6, 4, 5), 2 * COUNT, "pairs"),),
        ("extremes of each interval",),
    ),
    "L10 units in words, every stamp twice": Example(
        (
            "in s,C1 in V,C2 in V\n"
            + rows(lambda p: f"{p // 2 * 1e-4 - 0.2:.5E},{11.8 + 0.3 * (p % 2):.2f},{0.03 + 0.08 * (p % 2):.2f}\n")
        ).encode(),
        (
            Wire("C1", "V", -0.2, 1e-4, (11.8, 12.1), form="pairs"),
            Wire("C2", "V", -0.2, 1e-4, (0.03, 0.11), form="pairs"),
        ),
        ("Every stamp stands twice",),
    ),
    "L11 key block closed by a marker row": Example(
        (
            "Memory Length,120,\nTrigger Level,-20.0mV,\nSource,CH1,\nProbe Ratio,1.000E+01,\nVertical Units,V,\n"
            "Horizontal Units,S,\nSampling Period,2.000E-06,\nTime,03-Mar-24 10:15:42,\nWaveform Data,\n"
            + rows(lambda p: f"{2e-6 * p - 1e-2 + 1e-8 * (p < 60):.5e},{volts(p):.2e},\n")
        ).encode(),
        (Wire("CH1", "V", -9.99999e-3, 2e-6, (11.9,)),),
        ("Probe factor in the file: 1.000E+01",),
    ),
    "L12 raw counts and no time": Example(
        (
            "Memory Length,120,\nSource,CH2,\nVertical Units,V,\nVertical Scale,5.000E-01,\n"
            "Vertical Position,-1.000E+00,\nHorizontal Scale,1.000E-03,\nSampling Period,1.000E-05,\nWaveform Data,\n"
            + rows(lambda p: f"{24 - p % 3 if p // 20 % 2 else -31},\n")
        ).encode(),
        (Wire("CH2", "counts", 0.0, 1e-5, (-31.0,)),),
        ("converter counts, not V", "counted from 0"),
        ("counts",),
    ),
    "L13 bracketed units row, decimal comma": Example(
        (
            "Zeit;Kanal A;Kanal B\n(us);(V);(mV)\n;;\n"
            + rows(lambda p: f"{0.002 * p - 20:.8f};{volts(p):.8f};{ripple(p) * 1000:.8f}\n").replace(".", ",")
        ).encode(),
        (Wire("Kanal A", "V", -20e-6, 2e-9, (11.92,)), Wire("Kanal B", "V", -20e-6, 2e-9, (0.0, 0.04))),
        ("The time is in us in the file", "Kanal B is in mV in the file"),
    ),
    "L13 micro sign in one byte, beyond range": Example(
        (
            "Time,Channel A,Channel B\n(\u00b5s),(V),(mV)\n\n"
            + rows(
                lambda p: f"{0.002 * p - 20:.8f},{volts(p):.8f},"
                f"{'INF' if 5 <= p < 8 else f'{ripple(p) * 1000:.8f}'}\n"
            )
        ).encode("cp1252").replace(b"INF", b"-inf"),
        (
            Wire("Channel A", "V", -20e-6, 2e-9, (11.92,)),
            Wire("Channel B", "V", -20e-6, 2e-9, (0.0, 0.04), clipped=((5, 8),)),
        ),
        ("at least the rail",),
    ),
    "L13 a time that is called frequency": Example(
        ("Frequency,Channel A\n(ms),(V)\n\n" + rows(lambda p: f"{0.002 * p - 20:.8f},{volts(p):.8f}\n")).encode(),
        (Wire("Channel A", "V", -0.02, 2e-6, (11.92,)),),
    ),
    "L14 comment block": Example(
        (
            "#Title of the exporting program, version 1.2\n#Date Time: 2024-03-03 10:15:42.118\n"
            "#Sample rate: 17857.1Hz\n#Samples: 120\n"
            "#Trigger: Source: Channel 1 Type: Edge Condition: Rising Level: 2 V, 3 ?\n"
            "#Channel 1: Range: 2 V/div Offset: 0 V Attenuation: 10 X\n\nTime (s),Channel 1 (V),Channel 2 (V)\n"
            + rows(lambda p: f"{5.6e-5 * p - 0.032768:.16f},{volts(p):.7f},{ripple(p):.7f}\n")
        ).encode(),
        (
            Wire("Channel 1", "V", -0.032768, 5.6e-5, (11.92,)),
            Wire("Channel 2", "V", -0.032768, 5.6e-5, (0.0, 0.04)),
        ),
    ),
    "L14 with decoded text columns": Example(
        (
            "#Sample rate: 250000Hz\n\nTime (s),Channel 1 (V),decoded\n"
            + rows(lambda p: f"{4e-6 * p:.16f},{volts(p):.7f},{'X' if p % 3 else 'h3F'}\n")
        ).encode(),
        (Wire("Channel 1", "V", 0.0, 4e-6, (11.92,)),),
        ("decoded holds text and was left out",),
    ),
    "L15 one header row, unlike units": Example(
        ("Time(s),Ch1(V),Ch2(A)\n" + rows(lambda p: f"{1e-5 * p + 1.25e-5:.9f},{volts(p)},{ripple(p)}\n")).encode(),
        (Wire("Ch1", "V", 1.25e-5, 1e-5, (11.92,)), Wire("Ch2", "A", 1.25e-5, 1e-5, (0.0, 0.04))),
    ),
    "L15 quoted, arbitrary unit": Example(
        ('"Time (ms)","Recording (a.u.)"\n' + rows(lambda p: f"{2e-2 * p:.9E},{volts(p):.9E}\n")).encode(),
        (Wire("Recording", "a.u.", 0.0, 2e-5, (11.92,)),),
    ),
    "L15 no units, blanks behind commas, accents": Example(
        (
            "Time[s], L\u00fcfter vorn, Channel 1\n"
            + rows(lambda p: f"{1e-3 * p:.6f}, {volts(p)}, {ripple(p)}\n")
        ).encode(),
        (Wire("L\u00fcfter vorn", None, 0.0, 1e-3, (11.92,)), Wire("Channel 1", None, 0.0, 1e-3, (0.0, 0.04))),
        ("L\u00fcfter vorn: the file gives no unit",),
        ("unit", "unit"),
    ),
    "L16 no header": Example(
        rows(lambda p: f"{-4e-5 + 1e-6 * p:.2E}   {volts(p):.2E}   {ripple(p):.2E}\n").encode(),
        (
            Wire("column 2", None, -4e-5, 1e-6, (11.9,), step_within=0.01),
            Wire("column 3", None, -4e-5, 1e-6, (0.0, 0.04), step_within=0.01),
        ),
        ("Column 1 is taken for the time in seconds",),
        ("time", "unit", "unit"),
    ),
    "L16 the time in the second column": Example(
        rows(lambda p: f"{volts(p):.3f},{p * 1e-5:.6f}\n").encode(),
        (Wire("column 1", None, 0.0, 1e-5, (11.92,)),),
        ("Column 2 is taken for the time",),
        ("time", "unit"),
    ),
    "L17 interval in the head, values only": Example(
        (
            "t0\t01/01/1903  00:00:00,000000\ndelta t\t1,25E-05\n\t\nY\t\n"
            + rows(lambda p: f"{volts(p) + 0.0412:.6f}\t\n").replace(".", ",")
        ).encode(),
        (Wire("Y", None, 0.0, 1.25e-5, (11.9612,)),),
        ("there is no time column", "counted from 0"),
        ("unit",),
    ),
    "L18 one value a line behind unexplained integers": Example(
        ("3\n120\n\n" + rows(lambda p: f"{volts(p):.2f}\n")).encode(),
        (Wire("column 1", None, 0.0, 2e-5, (11.92,)),),
        ("2 leading lines hold whole numbers",),
        ("unit",),
        Reading(step_s=2e-5),
    ),
    "L18 all values in one row": Example(
        ",".join(f"{volts(p):.2f}" for p in range(600)).encode(),
        (Wire("row 1", None, 0.0, 1e-4, (11.92,), 600),),
        ("row",),
        ("unit",),
        Reading(step_s=1e-4),
    ),
    "L18 two rows, x above y": Example(
        (
            ",".join(f"{1e-4 * p - 0.01:.4f}" for p in range(300))
            + "\n"
            + ",".join(f"{volts(p):.2f}" for p in range(300))
            + "\n"
        ).encode(),
        (Wire("row 2", None, -0.01, 1e-4, (11.92,), 300),),
        ("Each row holds one channel",),
        ("rows", "time", "unit"),
    ),
    "L18 one row a channel": Example(
        "".join(
            ";".join([name, *(f"{value(p):.2f}" for p in range(200))]).replace(".", ",") + "\n"
            for name, value in (("bus (V)", volts), ("ground (V)", ripple))
        ).encode(),
        (Wire("bus", "V", 0.0, 1e-3, (11.92,), 200), Wire("ground", "V", 0.0, 1e-3, (0.0, 0.04), 200)),
        ("Each row holds one channel",),
        reading=Reading(step_s=1e-3, rows_are_channels=True),
    ),
    "L19 logger with a wall clock": Example(
        (
            '\ufeff"Index","Timestamp","Voltage(V)","Serial Number","Logger Name"\r\n'
            + rows(
                lambda p: f'"{p}","03.03.2024 {_clock(10 * p)}","12,{p % 90 + 10}"'
                + (',"000000","van battery"\r\n' if p == 0 else "\r\n")
            )
            + "\r\n"
        ).encode("utf-16-le"),
        (Wire("Voltage", "V", 0.0, 10.0, (12.10, 12.11)),),
        ("2024-03-03 10:15:00",),
    ),
    "L19 dates with slashes": Example(
        ("Timestamp,bus (V)\n" + rows(lambda p: f"03/04/2024 {_clock(p)},{volts(p)}\n")).encode(),
        (Wire("bus", "V", 0.0, 1.0, (11.92,)),),
        ("the day is taken to come first",),
        ("date order",),
    ),
    "L20 carriage returns alone, coarse time, no last end": Example(
        ("TIME,CH2\r" + rows(lambda p: f"{-2 + 0.005 * p:.2f},{ripple(p):.2f}\r")).rstrip("\r").encode(),
        (Wire("CH2", None, -2.0, 0.005, (0.0, 0.04), step_within=0.02),),
        ("repeat the one before",),
        ("time unit", "unit"),
    ),
    "L20 doubled carriage returns": Example(
        ("Time (s),CH2 (V)\r\r\n" + rows(lambda p: f"{0.005 * p:.3f},{ripple(p):.2f}\r\r\n")).encode(),
        (Wire("CH2", "V", 0.0, 0.005, (0.0, 0.04)),),
    ),
    "L21 re-saved, names that say nothing": Example(
        ("\ufeffA,B\r\n" + rows(lambda p: f"{0.001 * p:g},{volts(p)}\r\n")).encode(),
        (Wire("B", None, 0.0, 0.001, (11.92,)),),
        asks=("time", "unit"),
    ),
    "L22 sectioned text, one block, a step for each channel": Example(
        _sectioned(COUNT, 1).encode("cp1252"),
        (Wire("bus", "V", 0.0, 1e-5, (11.9212,)), Wire("sensor", "V", 0.0, 2e-5, (2.0, 2.04), COUNT // 2)),
    ),
    "L22 sectioned text, the time restarts": Example(
        _sectioned(60, 2, stars=False).encode("cp1252"),
        (
            Wire("bus · segment 1", "V", 0.0, 1e-5, (11.9212,), 60, segments=2),
            Wire("bus · segment 2", "V", 0.0, 1e-5, (11.9212,), 60, segments=2),
            Wire("sensor · segment 1", "V", 0.0, 2e-5, (2.0, 2.04), 30, segments=2),
            Wire("sensor · segment 2", "V", 0.0, 2e-5, (2.0, 2.04), 30, segments=2),
        ),
        ("2 segments", "too short to be lined up"),
    ),
    "L22 bursts of ten rows, then a pause": Example(
        (
            "X_Value\tbus (V)\n"
            + rows(lambda p: f"{p // 10 * 2.0 + p % 10 * 1e-3:.6f}\t{volts(p):.6f}\n").replace(".", ",")
        ).encode(),
        (Wire("bus", "V", 0.0, None, (11.92,), form="uneven", times_s=(0.0, 0.001)),),
        ("a pause is no dropout",),
        ("time unit",),
    ),
    "L23 a list of changes": Example(
        ("Time [s], crank, cam\n" + "".join(f"{t:.9f},{a},{b}\n" for t, a, b in CHANGES)).encode(),
        tuple(
            Wire(name, None, 0.0, None, tuple(float(one[place]) for one in CHANGES), len(CHANGES), "changes",
                 times_s=tuple(one[0] for one in CHANGES))
            for place, name in ((1, "crank"), (2, "cam"))
        ),
        ("a list of changes",),
    ),
    "L24 keyword lines with names, symbols and units": Example(
        (
            "\ufeffMIN=0\t-1\t-20\r\r\nMAX=600\t1\t20\r\r\nSCALE=1\t1\t1\r\r\n"
            'DEF="Zeit" t / s\t"Bus" U_1 / V\t"Strom" I_2 / A\r\r\n'
            + rows(lambda p: f"{0.1 * p + 0.004 * (p % 3):.4f}\t{volts(p):.2f}\t{ripple(p):.3f}\r\r\n").replace(".", ",")
        ).encode(),
        (
            Wire("Bus", "V", 0.0, None, (11.92,), form="uneven", times_s=(0.0, 0.104, 0.208)),
            Wire("Strom", "A", 0.0, None, (0.0, 0.04), form="uneven", times_s=(0.0, 0.104, 0.208)),
        ),
        ("samples a second on average",),
    ),
    "L25 stray NULs and unit words": Example(
        (
            "Zeit\tKanal 1\tKanal 2\n\0Sekunden\t( mV )\t( mV )\n\0"
            + rows(lambda p: f"{3 * p}\t{volts(p) * 100:.3f}\t{ripple(p) * 100:.3f}\n").replace(".", ",")
        ).encode(),
        (Wire("Kanal 1", "V", 0.0, 3.0, (1.192,)), Wire("Kanal 2", "V", 0.0, 3.0, (0.0, 0.004))),
    ),
    "L26 meter readings between two clocks": Example(
        (
            ",,,,,03-MAR-2024,10:15:42,1196113,\n"
            + rows(lambda p: f",{volts(p) + 0.01:+.7E},Vdc,,\n")
            + ",,,,,03-MAR-2024,10:15:52,\n"
        ).encode(),
        (Wire("column 2", "V", 0.0, 10 / (COUNT - 1), (11.93,)),),
        ("rough",),
    ),
    "L29 a stray last row": Example(
        ("Time (s),bus (V)\n" + rows(lambda p: f"{0.001 * (p + 1):.3f},{volts(p)}\n") + "0,0\n").encode(),
        (Wire("bus", "V", 0.001, 0.001, (11.92,)),),
        ("The last row does not belong to the record",),
    ),
    "L30 time and value pairs for each channel": Example(
        ("# /rig/a/time, /rig/a/volts, /rig/b/time, /rig/b/level\n" + rows(_per_channel_times)).encode(),
        (
            Wire("/rig/a/volts", None, 0.0, None, (11.92,), form="uneven", times_s=(0.0, 0.0104, 0.0208)),
            Wire("/rig/b/level", None, 0.0, 0.03, (0.0,), 40),
        ),
        ("a time column of its own", "s since 1970"),
        ("unit",),
    ),
    "D1 segments with a table": Example(
        _segments(3, 60).encode(),
        tuple(
            Wire(f"Ampl · segment {k + 1}", None, 0.41 * k - 2e-5, 1e-6, (11.92,), 60, segments=3) for k in range(3)
        ),
        ("3 segments",),
        ("time unit", "unit"),
    ),
    "D1 a single capture": Example(
        _segments(1, COUNT).encode(),
        (Wire("Ampl", None, -2e-5, 1e-6, (11.92,)),),
        asks=("time unit", "unit"),
    ),
    "D2 quoted keyword block": Example(
        (
            '"COMMENT","made up"\n"DATE","03-03-2024"\n"TIME","10:15:42"\n"NUM_SIGS",5\n"INTERVAL",1.000E-04\n'
            '"HORZ_UNITS","S"\n"VERT_UNITS","S","V","V","Bit","Bit"\n'
            '"SIGNAL","TIME","CH1(Max)","CH1(Min)","BIT0","BIT1"\n"DATA"\n'
            + rows(lambda p: f"{1e-4 * p:.3E},{12 + ripple(p):.2f},{11 - ripple(p):.2f},{p // 4 % 2},{p // 8 % 2}\n")
        ).encode(),
        (
            Wire("CH1", "V", 0.0, 1e-4, (11, 12, 10.96, 12.04), 2 * COUNT, "pairs"),
            Wire("BIT0", None, 0.0, 1e-4, (0.0,)),
            Wire("BIT1", None, 0.0, 1e-4, (0.0,)),
        ),
        ("extremes of each interval",),
    ),
    "D3 channels stacked": Example(
        (_stacked("CH1", volts, COUNT) + "\n" + _stacked("CH2", ripple, COUNT)).encode(),
        (Wire("CH1", "V", 0.0, 2e-5, (11.92,)), Wire("CH2", "V", 0.0, 2e-5, (0.0, 0.04))),
    ),
    "D4 values only, a column a channel": Example(
        (
            "Record length;120;120\nSource;CH1;CH2\nSample interval;2.0E-06;2.0E-06\nVertical unit;V;V\n"
            "Trigger time;-1.0E-03;-1.0E-03\nValues;;\n" + rows(lambda p: f"{volts(p):.3f};{ripple(p):.3f}\n")
        ).encode(),
        (Wire("CH1", "V", 0.0, 2e-6, (11.92,)), Wire("CH2", "V", 0.0, 2e-6, (0.0, 0.04))),
        ("there is no time column",),
    ),
    "D5 one line of amplitudes, said to be pairs": Example(
        ",".join(f"{volts(p // 2) + 0.2 * (p % 2):.4E}" for p in range(2 * COUNT)).encode(),
        (Wire("row 1", "V", 0.0, 1e-4, (11.92, 12.12), 2 * COUNT, "pairs"),),
        ("as you said",),
        reading=Reading(step_s=1e-4, pairs=True, units=((1, "V"),)),
    ),
    "D5 one line of amplitudes, pairs asked about": Example(
        ",".join(f"{volts(p // 2) + 0.2 * (p % 2):.4E}" for p in range(2 * COUNT)).encode(),
        (Wire("row 1", "V", 0.0, 1e-4, (11.92, 12.12), 2 * COUNT),),
        asks=("pairs",),
        reading=Reading(step_s=1e-4, units=((1, "V"),)),
    ),
    "D6 marks beyond the range": Example(
        (
            "Time (s),bus (V)\n"
            + rows(lambda p: f"{1e-5 * p:.6f},{MARKS.get(p, volts(p))}\n")
        ).encode(),
        (Wire("bus", "V", 0.0, 1e-5, (11.92,), gaps=((11, 12),), clipped=((3, 7), (9, 10))),),
        ("bus: 5 samples are beyond the range", "bus: 1 sample is not acquired"),
    ),
    "D7 counts with origin, increment and reference": Example(
        (
            "Source,CH1\nXOrigin,-1.0E-03\nXIncrement,2.0E-06\nXReference,0\nYOrigin,1.0\nYIncrement,0.05\n"
            "YReference,128\nY Units,V\n" + rows(lambda p: f"{200 - p % 40}\n")
        ).encode(),
        (Wire("CH1", "V", -1e-3, 2e-6, ((200 - 128) * 0.05 + 1.0, (199 - 128) * 0.05 + 1.0)),),
        ("origin, increment and reference",),
    ),
}  # fmt: skip


REFUSED: dict[str, tuple[bytes, str]] = {
    "L22 hundreds of two-sample segments": (_sectioned(2, 300, stars=False).encode("cp1252"), "300 segments of 2 samples"),
    "L27 spectrum by its header": (
        ("Freq,,Amp,,\n" + rows(lambda p: f"{p * 50},Hz,{-volts(p)},dBm,\n")).encode(), "spectrum"),
    "L27 spectrum by its brackets": (
        ("Frequency (Hz),CH1 (dB)\n" + rows(lambda p: f"{p * 50},{-volts(p)}\n")).encode(), "spectrum"),
    "L27 spectrum beside its preamble": (
        rows(lambda p: f"{_beside(p, 'MATH', 'dB')},,{p * 2.5:.4f},{-volts(p)},\n").encode(), "spectrum"),
    "L27 spectrum by its keys": (
        ("Source,FFT\nVertical Units,dB\nHorizontal Units,Hz\nSampling Period,2\nWaveform Data,\n"
         + rows(lambda p: f"{-int(volts(p))},\n")).encode(), "spectrum"),
    "L28 settings": (("[Channel]\n" + rows(lambda p: f"Key{p}:Value{p}\n", 40)).encode(), "settings"),
    "L28 settings with numbers": (
        ("Model Number:1\n[CH1]\n" + rows(lambda p: f"Key {p}:{p * 0.5}\n", 40)).encode(), "settings"),
    "L28 binary side file": (b"\x00\x05\x16\x07\x00\x02\x00\x00" + b"Mac OS X        " + bytes(range(256)) * 8, "no text"),
    "L28 table over a position": (
        ("Position (mm),Height (V)\n" + rows(lambda p: f"{p * 0.5},{volts(p)}\n")).encode(), "over"),
    "L28 table over a temperature": (
        ("Temperature (\u00b0C),Sensor (V)\n" + rows(lambda p: f"{p * 0.5},{volts(p)}\n")).encode(), "over"),
    "web page": (b"<!DOCTYPE html><html><body>404</body></html>", "web page"),
    "pointer file": (b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n", "pointer"),
    "empty": (b"", "is empty"),
    "blank": (b"\n\n  \n", "is empty"),
    "words only": (b"once upon a time\nthere was a bus\n", "no table of numbers"),
    "values without an interval": (rows(lambda p: f"{volts(p)}\n").encode(), "--step"),
    "one row without an interval": (",".join(f"{volts(p)}" for p in range(300)).encode(), "--step"),
}  # fmt: skip
