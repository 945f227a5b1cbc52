"""Made bus signals: LIN, CAN, K-line and SENT, each with a bit time, a schedule and data of its own."""

import numpy as np
from made_signals import Made, span, steps, two_states

from loomlight.signal.bus_traffic import COMMANDER, Slot, traffic
from loomlight.signal.circuit import Driver, LinBus, simulate


def lin(rng: np.random.Generator) -> Made:
    """A LIN bus: one of the usual bit rates, its schedule and what its nodes say; edges from the circuit model."""
    bit_rate = float(rng.choice([9600, 10417, 19200])) * (1 + rng.uniform(-4e-3, 4e-3))
    count = int(rng.integers(2, 9))
    identifiers = rng.choice(60, count, replace=False)
    slots = []
    for one in identifiers.tolist():
        fixed = rng.integers(0, 256, int(rng.choice([2, 4, 8]))).tolist()
        talker = str(rng.choice(["", COMMANDER, "near node", "far node"], p=[0.05, 0.35, 0.3, 0.3]))
        counts = bool(rng.random() < 0.4)
        slots.append(
            Slot(one, talker, lambda n, fixed=fixed, counts=counts: bytes([(fixed[0] + n * counts) % 256, *fixed[1:]]))
        )
    slot_s = float(rng.choice([10e-3, 15e-3, 20e-3])) * (19200 / bit_rate if bit_rate < 15000 else 1.0)
    length_s = rng.uniform(6, 20) * slot_s
    begin_s, stop_s = span(length_s)
    sent = traffic(
        slots,
        bit_rate=bit_rate,
        slot_s=slot_s,
        start_s=0.0,
        stop_s=stop_s - begin_s,
        first_round=int(rng.integers(256)),
    )
    spans = sorted(one for spans in sent.spans.values() for one in spans)
    edges_s = np.array(spans).ravel() + begin_s + rng.uniform(0, slot_s)
    battery_v = rng.uniform(11.5, 14.5)
    bus = LinBus(battery_v=battery_v, near_f=rng.uniform(1e-9, 6e-9))
    step_s = 1e-6
    driver = Driver("near", rng.uniform(0.5, 1.2), [(20e-6, 140e-6)])
    near, _ = simulate(bus, [driver], series_ohm=0.1, step_s=step_s, count=260)
    low, high = near[130], near[10]
    fall, rise = ((one - low) / (high - low) for one in (near[20:130], near[140:250]))
    rise[-1], fall[-1] = 1.0, 0.0
    signal = steps(edges_s, first=1.0, low=low, high=high, rise=rise, fall=fall, step_s=step_s)
    return Made(signal, length_s, int(length_s * bit_rate * rng.uniform(9, 16)))


def can_bits(rng: np.random.Generator) -> Made:
    """Stuffed frames at a few fixed periods, each with its length and content, as on a two-wire bus."""
    bit_s = 1.0 / float(rng.choice([125e3, 250e3, 500e3])) * (1 + rng.uniform(-1e-3, 1e-3))
    length_s = float(rng.uniform(2000, 6000)) * bit_s
    begin_s, stop_s = span(length_s)
    due = []
    for number in range(int(rng.integers(2, 7))):
        period = float(rng.choice([250, 500, 1000, 2000])) * bit_s
        bits = [0, *rng.integers(0, 2, int(rng.choice([44, 76, 108]))).tolist()]
        due += [(at, number, bits) for at in np.arange(begin_s + rng.uniform(0, period), stop_s, period).tolist()]
    edges, free_s = [], begin_s
    for at, _, bits in sorted(due, key=lambda one: one[:2]):
        free_s = max(free_s + 11 * bit_s, at)
        sent = [*bits[:30], *rng.integers(0, 2, 16).tolist(), *bits[46:]]
        run, last = 0, 1
        for bit in sent:
            if run == 5:
                last, run = 1 - last, 1
                edges.append(free_s)
                free_s += bit_s
            if bit != last:
                edges.append(free_s)
                run, last = 0, bit
            run += 1
            free_s += bit_s
        if not last:
            edges.append(free_s)
    high = 2.0
    signal = two_states(rng, np.array(edges), bit_s, first=0.0, low=2.5, high=2.5 + high * 0.5)
    return Made(signal, length_s, int(length_s / bit_s * rng.uniform(8, 14)))


def k_line(rng: np.random.Generator) -> Made:
    """Bytes at 10 400 baud in messages with pauses."""
    bit_s = 1.0 / (10400 * (1 + rng.uniform(-5e-3, 5e-3)))
    length_s = rng.uniform(0.1, 0.4)
    at, stop_s = span(length_s)
    pause_s, gap_s = rng.uniform(5e-3, 30e-3), rng.uniform(0, 2e-3)
    edges = []
    message = rng.integers(0, 256, int(rng.integers(4, 12))).tolist()
    while at < stop_s:
        for byte in [*message, int(rng.integers(256))]:
            last = 1
            for bit in [0, *((byte >> place) & 1 for place in range(8)), 1]:
                if bit != last:
                    edges.append(at)
                    last = bit
                at += bit_s
            at += gap_s
        at += pause_s
    signal = two_states(rng, np.array(edges), bit_s, first=1.0, high=rng.uniform(11, 14))
    return Made(signal, length_s, int(length_s / bit_s * rng.uniform(8, 14)))


def sent_nibbles(rng: np.random.Generator) -> Made:
    """Nibbles as the time from one falling edge to the next, after a long calibration pulse."""
    tick_s = rng.uniform(3e-6, 10e-6)
    length_s = rng.uniform(3000, 9000) * tick_s
    at, stop_s = span(length_s)
    held = rng.integers(0, 16, 3).tolist()
    edges = []
    while at < stop_s:
        for ticks in [56, *(12 + one for one in [4, *held, *rng.integers(0, 16, 3).tolist(), int(rng.integers(16))])]:
            edges += [at, at + 5 * tick_s]
            at += ticks * tick_s
    signal = two_states(rng, np.array(edges), tick_s * 4, first=1.0)
    return Made(signal, length_s, int(length_s / tick_s * rng.uniform(2, 4)))
