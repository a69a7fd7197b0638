"""The instrument: layouts, bends and temperaments of ten-hole harps.

Semitones count from hole 1 blow. Row r of the ear's axis stands for semitone
r-1, rows 0..39. The common layout and the altered ones: common practice, no
source. Bends lie between the two notes of a hole, overblows and overdraws
outside them (Bahnson, Antaki & Beery 1998).
"""
from dataclasses import dataclass

import numpy as np

ROWS = 40
BLOW, DRAW = 0, 1

LAYOUTS = {
    "richter": ([0, 4, 7, 12, 16, 19, 24, 28, 31, 36], [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]),
    "country": ([0, 4, 7, 12, 16, 19, 24, 28, 31, 36], [2, 7, 11, 14, 18, 21, 23, 26, 29, 33]),
    "raised blow 3": ([0, 4, 9, 12, 16, 19, 24, 28, 31, 36], [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]),
    "natural minor": ([0, 3, 7, 12, 15, 19, 24, 27, 31, 36], [2, 7, 10, 14, 17, 21, 22, 26, 29, 33]),
    "harmonic minor": ([0, 3, 7, 12, 15, 19, 24, 27, 31, 36], [2, 7, 11, 14, 17, 20, 23, 26, 29, 32]),
}

# cents from equal temperament of just intervals above the key note, from memory
# of their ratios: 5-limit (16/15, 9/8, 6/5, 5/4, 4/3 ...); 7-limit differs on
# the fourth, taken as 21/16, and the minor seventh, 7/4
JUST5 = np.array([0, 11.7, 3.9, 15.6, -13.7, -2.0, -9.8, 2.0, 13.7, -15.6, 17.6, -11.7])
JUST7 = np.array([0, 11.7, 3.9, -33.1, -13.7, -29.2, -17.5, 2.0, 13.7, -15.6, -31.2, -11.7])


@dataclass
class State:
    """One way to sound one hole: breath, hole 0..9, semitones bent down (-1: an
    overblow or overdraw), nominal semitone and the side of the reed that sounds."""
    breath: int
    hole: int
    bend: int
    semitone: int
    reed: int


@dataclass
class Harp:
    base: float  # MIDI number of hole 1 blow, fractional: the recording's tuning is in it
    notes: np.ndarray  # [2][10] semitones
    cents: np.ndarray  # [2][10] temperament, cents from equal
    layout: str


def states(notes):
    """All states of a layout that fall on the axis."""
    out = []
    for hole in range(10):
        blow, draw = int(notes[BLOW][hole]), int(notes[DRAW][hole])
        out += [State(BLOW, hole, 0, blow, BLOW), State(DRAW, hole, 0, draw, DRAW)]
        side, high, low = (BLOW, blow, draw) if blow > draw else (DRAW, draw, blow)
        for bend in range(1, high - low):
            out.append(State(side, hole, bend, high - bend, side))
        if high > low:  # the lower reed's breath opens the higher reed
            out.append(State(1 - side, hole, -1, high + 1, side))
    return [s for s in out if 0 <= s.semitone + 1 < ROWS]


def features(notes):
    """Layout features [5][40]: blow natural, draw natural, draw bend, blow bend,
    overblow or overdraw; 1 where the harp has such a note."""
    f = np.zeros((5, ROWS), np.float32)
    for s in states(notes):
        if s.bend == 0:
            kind = s.breath
        elif s.bend > 0:
            kind = 2 if s.breath == DRAW else 3
        else:
            kind = 4
        f[kind, s.semitone + 1] = 1
    return f


def random_harp(rng):
    name = rng.choice(["richter"] * 12 + ["country", "raised blow 3", "natural minor",
                                           "harmonic minor", "altered", "altered", "altered", "altered"])
    start = LAYOUTS[name if name != "altered" else rng.choice(list(LAYOUTS))]
    notes = np.array(start)
    if name == "altered":
        for _ in range(rng.integers(1, 5)):
            side, hole = rng.integers(2), rng.integers(10)
            notes[side, hole] += rng.choice([-2, -1, 1, 2])
        notes = np.clip(notes, 0, 37)
    u = rng.random()
    if u < 0.75:
        base = rng.integers(55, 67)
    elif u < 0.9:
        base = rng.integers(41, 55)
    else:
        base = rng.integers(67, 79)
    just = (JUST5, JUST7)[rng.integers(2)]
    amount = rng.choice([0, 0, 1, rng.random()])
    cents = amount * just[notes % 12] + rng.uniform(-1, 1, notes.shape) * rng.uniform(0, 8)
    return Harp(base + rng.uniform(-0.5, 0.5), notes, cents, str(name))
