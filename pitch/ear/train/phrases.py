"""Invented performances with exact truth.

`perform` returns a Performance: voices (single reeds sounding without a break,
with pitch and loudness contours and the rows they are labelled as) and events
(what a player would write: start, end, breath).

A label starts at the nominal start of the reed's sound, before its attack has
risen (`as_heard` moves it to where it is heard), and ends where the dry sound
has fallen by 20 dB.
"""
from dataclasses import dataclass, field, replace

import numpy as np

import harp as hp


BESIDE = -12.0  # dB, a reed that far under a neighbour is not written


@dataclass
class Voice:
    start: float  # s, nominal start of the sound
    end: float  # s, the sound has fallen by 20 dB
    rise: float  # s, length of the attack
    release: float  # s, length of the release, of which 4/5 lie before end
    reed: int
    hole: int
    times: list  # s, break points of the pitch contour
    pitches: list  # semitones above the base, temperament included
    level: float  # dB
    mod: dict  # vibrato, tremolo and body, shared by the reeds of an event
    segments: list  # labelled (start, end, row)
    steady: bool = False  # no attack of its own: begun from a neighbour's breath
    fundamental: float = 0.0  # dB on the first partial
    dips: list = field(default_factory=list)  # (start, end, dB) of tongued repeats
    hollow: float = 0.0  # dB on the first partial, coming and going while the note lasts


@dataclass
class Event:
    start: float
    end: float
    breath: int


@dataclass
class Performance:
    harp: hp.Harp
    seconds: float
    voices: list
    events: list
    bursts: list  # (start, length, dB) of breath noise
    sung: list = field(default_factory=list)  # (start, MIDI numbers, seconds, dB) of lines that a voice hums or whoops


def log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


class Player:
    """Makes one performance. Habits are drawn once, notes one after another."""

    def __init__(self, rng, harp, seconds):
        self.rng, self.harp, self.seconds = rng, harp, seconds
        self.states = hp.states(harp.notes)
        self.voices, self.events, self.bursts = [], [], []
        r = rng
        self.style = r.choice(["melody", "fast", "long", "mixed", "uniform", "chordal", "split"],
                              p=[0.24, 0.12, 0.16, 0.15, 0.08, 0.12, 0.13])
        textures = np.array([1.0, r.uniform(0, 0.5), r.uniform(0, 0.3), r.uniform(0, 0.25)])
        if r.random() < 0.2:
            textures[1:] = 0
        if self.style == "chordal":
            textures = np.array([0.3, 0.9, 0.3, 0.9])
        if self.style == "split":
            textures = np.array([0.3, 0.15, 1.0, 0.05])
        self.textures = textures / textures.sum()
        self.bending = r.uniform(0, 0.5)
        self.opening = r.choice([0.01, 0.01, 0.2])
        self.legato = r.uniform(0.1, 0.8)
        self.vibrato = r.choice([0, r.uniform(0, 1)])
        self.tremolo = r.choice([0, 0, r.uniform(0, 1)])
        self.slaps = r.choice([0, 0, r.uniform(0, 0.5)])
        self.intonation = r.uniform(0, 14)  # cents, of bends
        self.attack = log_uniform(r, 0.004, 0.08)
        self.rests = r.uniform(0.02, 0.2)
        self.longest_rest = r.choice([2.5, 2.5, 6.0])
        self.mistuned = r.choice([0.0, 0.0, r.uniform(0, 6)])  # cents, of each reed of several
        self.hole = int(r.integers(10))
        self.breath = int(r.integers(2))
        self.dynamic = 0.0
        self.tick = r.uniform(0.08, 0.3)
        self.joins = False  # whether the note being made goes over into the next without a gap

    def pick(self):
        """Choose the next state: a random walk over holes, or any."""
        r = self.rng
        if self.style == "uniform" or r.random() < 0.05:
            return self.states[r.integers(len(self.states))]
        step = r.choice([-3, -2, -1, 0, 1, 2, 3], p=[0.04, 0.1, 0.24, 0.24, 0.24, 0.1, 0.04])
        self.hole = int(np.clip(self.hole + step, 0, 9))
        if r.random() < 0.4:
            self.breath = 1 - self.breath
        here = [s for s in self.states if s.hole == self.hole and s.breath == self.breath]
        weights = np.array([{0: 1.0, -1: self.opening}.get(s.bend, self.bending) for s in here])
        if not here:
            return self.states[r.integers(len(self.states))]
        return here[r.choice(len(here), p=weights / weights.sum())]

    def duration(self):
        r = self.rng
        if self.style == "fast":
            return log_uniform(r, 0.04, 0.18)
        if self.style == "long":
            return log_uniform(r, 2.5, 8.0)
        if self.style in ("mixed", "uniform"):
            return log_uniform(r, 0.04, 3.5)
        if r.random() < 0.5:
            return max(0.05, self.tick * r.choice([1, 1, 2, 2, 3, 4, 6]) * r.uniform(0.93, 1.07))
        return log_uniform(r, 0.07, 1.6)

    def pitch_of(self, state):
        """Semitones above the base as played, temperament and intonation included."""
        cents = self.harp.cents[state.reed, state.hole]
        if state.bend != 0:
            cents = self.rng.normal(0, self.intonation + 1e-3)
            if self.rng.random() < 0.12:
                cents = self.rng.uniform(-35, 35)
        return state.semitone + np.clip(cents, -40, 40) / 100

    def modulation(self, length, steady=False):
        r = self.rng
        mod = {"vibrato": 0.0, "tremolo": 0.0, "seed": int(r.integers(1 << 31))}
        if length > 0.3 and r.random() < self.vibrato:
            mod.update(vibrato=log_uniform(r, 3, 38), vibrato_db=r.uniform(0.3, 7), vibrato_hz=r.uniform(4, 7),
                       vibrato_delay=r.uniform(0, 0.5) * length, vibrato_phase=r.uniform(0, 6.28))
        if length > 0.25 and r.random() < self.tremolo:
            mod.update(tremolo=r.uniform(1, 9), tremolo_hz=r.uniform(2.5, 7.5), tremolo_phase=r.uniform(0, 6.28))
        shape = r.choice(["flat", "swell", "fade", "accent", "grow"], p=[0.4, 0.17, 0.2, 0.15, 0.08])
        if steady and shape != "fade":  # the breath goes on as it was
            shape = "flat"
        mod["body"] = (str(shape), r.uniform(2, 12), r.uniform(0.2, 0.8))
        if shape == "fade" and length > 0.4 and r.random() < 0.3:
            mod["body"] = ("fade", r.uniform(12, 26), 0.5)  # dies away
        mod["flutter"] = r.uniform(0, 1.2)
        return mod

    def contour(self, pitch, start, end, bendable):
        """Break points of one note's pitch: plain, scoop, fall or dip."""
        r, length = self.rng, end - start
        if not bendable or length < 0.12 or r.random() > 0.28:
            if r.random() < 0.4:  # reeds start a little off
                off = r.uniform(-0.3, 0.1)
                return [start, start + r.uniform(0.01, 0.05)], [pitch + off, pitch]
            return [start], [pitch]
        depth = r.uniform(0.3, 2.0)
        span = min(log_uniform(r, 0.05, 0.3), 0.45 * length)  # slow slides too
        kind = r.choice(["scoop", "fall", "dip"], p=[0.5, 0.25, 0.25])
        if kind == "scoop":
            return [start, start + 0.3 * span, start + span], [pitch - depth, pitch - 0.8 * depth, pitch]
        if kind == "fall":
            return [start, end - span, end], [pitch, pitch, pitch - depth]
        middle = r.uniform(start + span, max(start + span, end - span))
        return [start, middle - 0.5 * span, middle, middle + 0.5 * span], [pitch, pitch, pitch - depth, pitch]

    def second_level(self):
        r, u = self.rng, self.rng.random()
        if u < 0.45:
            return r.uniform(-14, -6)
        if u < 0.93:
            return r.uniform(-6, 0)
        return r.uniform(-18, -14)

    def partners(self, state, texture):
        """The states that sound with this one, itself first."""
        r, out = self.rng, [state]
        natural = {(s.breath, s.hole): s for s in self.states if s.bend == 0}
        if texture == "double":
            other = state.hole + r.choice([-1, 1])
            if state.bend == 0 and r.random() < 0.12:  # a bent neighbour
                bent = [s for s in self.states if s.hole == other and s.breath == state.breath and s.bend > 0]
                if bent:
                    return [state, bent[r.integers(len(bent))]]
            if (state.breath, other) in natural and state.bend >= 0:
                out.append(natural[state.breath, other])
        elif texture == "split" and state.bend == 0:
            gaps = [2, 3, 3, 3, 4] if state.breath == hp.BLOW else [2, 3, 3, 4, 4]
            if r.random() < 0.65:  # an octave if the layout has one
                for gap in (3, 4):
                    top = natural.get((state.breath, state.hole + gap))
                    if top is not None and top.semitone - state.semitone == 12:
                        gaps = [gap]
            top = natural.get((state.breath, state.hole + int(r.choice(gaps))))
            if top is not None:
                out.append(top)
        elif texture == "chord" and state.bend == 0:
            for k in range(1, r.choice([3, 3, 3, 4, 4, 4, 5])):
                if (state.breath, state.hole + k) in natural:
                    out.append(natural[state.breath, state.hole + k])
        return out

    def level(self):
        self.dynamic = float(np.clip(self.dynamic * 0.9 + self.rng.normal(0, 1.5), -8, 6))
        return self.dynamic + (self.rng.uniform(-4, 3) if self.rng.random() < 0.3 else 0)

    def note(self, state, start, end, texture, rise, release, steady, slapped=True):
        """One event: a single note, double stop, split or chord."""
        r, base = self.rng, self.level()
        mod, length = self.modulation(end - start, steady), end - start
        sounding = self.partners(state, texture)
        burst = r.uniform(0.015, 0.05) if slapped and not steady and r.random() < self.slaps else 0.0
        levels = [0.0]
        for _ in sounding[1:]:
            levels.append(r.uniform(-6, 0) if len(sounding) > 2 else self.second_level())
        r.shuffle(levels)  # any of them is the loudest
        faint = BESIDE if len(sounding) > 1 and abs(sounding[1].hole - sounding[0].hole) == 1 else -18
        for s, level in zip(sounding, levels):
            a, b = start, end
            weaker = len(sounding) > 1 and level < 0
            if weaker and length > 0.2 and r.random() < 0.12:
                if r.random() < 0.5:
                    a += r.uniform(0.03, 0.5) * length
                else:
                    b -= r.uniform(0.03, 0.5) * length
            pitch = self.pitch_of(s)
            if len(sounding) > 1:
                pitch += 0.01 * self.mistuned * r.uniform(-1, 1)
            bendable = s.bend >= 0 and len(sounding) < 3
            times, pitches = self.contour(pitch, a, b, bendable)
            self.voices.append(Voice(
                a, b, rise, release, s.reed, s.hole, times, pitches, base + level, mod,
                [(a - burst if a == start else a, b, s.semitone + 1)] if level > faint else [], steady,
                -r.uniform(0, 20) if weaker and r.random() < 0.5 else 0.0))
        if len(sounding) == 1 and r.random() < 0.1:  # a neighbour bleeds in, too weak to be written
            near = [s for s in self.states if s.breath == state.breath and s.bend == 0 and abs(s.hole - state.hole) == 1]
            if near:
                s = near[r.integers(len(near))]
                self.voices.append(Voice(start, end, rise, release, s.reed, s.hole, [start], [self.pitch_of(s)],
                                         base + r.uniform(-36, -21), mod, [], steady))
        if burst:
            self.slap(sounding[0], start, base, burst)
        self.events.append(Event(start - burst, end, state.breath))

    def slap(self, state, start, base, length):
        """A burst of the lower neighbours; the note counts as begun with it."""
        r = self.rng
        low = state.hole - r.integers(1, 4)
        for s in self.states:
            if s.breath == state.breath and s.bend == 0 and low <= s.hole < state.hole:
                self.voices.append(Voice(start - length, start + 0.004, 0.004, 0.012, s.reed, s.hole, [start],
                                         [self.pitch_of(s)], base + r.uniform(-8, 2), self.modulation(length), []))

    def glide(self, state, start):
        """Several bends of one hole in one breath; returns the end."""
        r = self.rng
        own = [s for s in self.states if s.hole == state.hole and s.breath == state.breath and s.bend >= 0]
        current = own[r.integers(len(own))]
        t = start
        times, pitches, segments = [t], [self.pitch_of(current)], []
        begun = t
        for _ in range(r.integers(1, 5)):
            others = [s for s in own if s.bend != current.bend]
            target = others[r.integers(len(others))]
            hold, move = log_uniform(r, 0.07, 0.7), log_uniform(r, 0.015, 0.15)
            pitch = self.pitch_of(target)
            times += [t + hold, t + hold + move]
            pitches += [pitches[-1], pitch]
            change = t + hold + move / 2
            segments.append((begun, change, current.semitone + 1))
            begun, t, current = change, t + hold + move, target
        end = t + log_uniform(r, 0.07, 0.8)
        segments.append((begun, end, current.semitone + 1))
        self.voices.append(Voice(start, end, self.rise(end - start), self.release(end - start), state.reed, state.hole,
                                 times, pitches, self.level(), self.modulation(end - start), segments))
        for a, b, _ in segments:
            self.events.append(Event(a, b, state.breath))
        return end

    def shake(self, state, start):
        """Fast alternation of two neighbouring holes; returns the end."""
        r = self.rng
        natural = {s.hole: s for s in self.states if s.breath == state.breath and s.bend == 0}
        pair = [natural[state.hole], natural[state.hole + (1 if state.hole < 9 else -1)]]
        end = start + log_uniform(r, 0.4, 3.5)
        step, t, k = 1 / r.uniform(11, 26), start, int(r.integers(2))
        base, overlap, mod = self.level(), r.uniform(0.004, 0.02), self.modulation(end - start)
        while t < end:
            b = t + step * r.uniform(0.85, 1.15)
            s = pair[k % 2]
            self.voices.append(Voice(t, b + 0.5 * overlap, overlap, overlap, s.reed, s.hole, [t], [self.pitch_of(s)],
                                     base + r.uniform(-2, 1), mod, [(t, b + 0.5 * overlap, s.semitone + 1)], True))
            self.events.append(Event(t, b, state.breath))
            t, k = b, k + 1
        return t

    def tongued(self, state, start, texture):
        """One note repeated by the tongue within one breath; returns the end."""
        r = self.rng
        first = len(self.voices)
        count, t = int(r.integers(2, 7)), start
        dip, width = log_uniform(r, 6, 60), r.uniform(0.015, 0.06)
        spans, dips = [], []
        length = max(0.06, min(0.6, self.duration()))
        for _ in range(count):
            end = t + length * r.uniform(0.85, 1.15)
            spans.append((t, end))
            dips.append((end, end + width, dip))
            t = end + width
        dips.pop()
        end = spans[-1][1]
        self.note(state, start, end, texture, self.rise(length), self.release(length), False, slapped=False)
        self.events.pop()
        heard = dip > 12 and width > 0.02
        for voice in self.voices[first:]:
            if voice.end < start + 0.05 or not voice.segments:
                continue
            voice.dips = dips
            row = voice.segments[0][2]
            voice.segments = [(max(a, voice.start), min(b if heard else b + width, voice.end), row)
                              for a, b in spans if a < voice.end and b > voice.start]
        for a, b in spans:
            self.events.append(Event(a, b, state.breath))
        return end

    def rise(self, length):
        return min(np.clip(self.attack * np.exp(self.rng.normal(0, 0.6)), 0.002, 0.15), 0.5 * length)

    def release(self, length):
        return min(log_uniform(self.rng, 0.01, 0.3 if length > 0.3 else 0.06), 0.6 * length)

    def gesture(self, state, start, texture):
        """A move of several notes that is played instead of one; its end, or None if there is none."""
        return None

    def play(self):
        r = self.rng
        t = r.choice([0.0, r.uniform(-1, 0.5), r.uniform(0, 2)])
        joined, previous = False, None
        while t < self.seconds:
            state = self.pick()
            texture = str(r.choice(["single", "double", "split", "chord"], p=self.textures))
            moved = self.gesture(state, t, texture)
            if moved is not None:
                t, joined, previous = moved, False, None
                if r.random() < 0.5:
                    t += log_uniform(r, 0.02, 0.5)
                continue
            special = r.random()
            own = [s for s in self.states if s.hole == state.hole and s.breath == state.breath and s.bend >= 0]
            same_breath = previous is not None and previous.breath == state.breath
            if special < 0.07 and len(own) > 1 and self.style not in ("fast", "long"):
                t, joined = self.glide(own[0], t), False
            elif special < 0.083 and self.style != "long" and state.bend == 0:
                t, joined = self.shake(state, t), False
            elif special < 0.13 and self.style != "long":
                t, joined = self.tongued(state, t, texture), False
            else:
                length = self.duration()
                if length < 0.09 and r.random() < 0.8:
                    texture = "single"
                if texture == "chord" and r.random() < 0.4:  # low chords: of three reeds, or with an octave of one
                    low = [s for s in self.states if s.bend == 0 and s.breath == state.breath and s.hole < 3]
                    state = low[r.integers(len(low))] if low else state
                steady = bool(joined and same_breath)
                if joined and previous.breath == state.breath and previous.semitone == state.semitone:
                    t, steady = t + r.uniform(0.015, 0.06), False
                overlap = min(log_uniform(r, 0.005, 0.06), 0.4 * length)
                rise = overlap if steady else self.rise(length)
                self.joins = joined = r.random() < self.legato
                release = self.release(length)
                if steady:
                    for v in self.voices[-6:]:  # the notes just left fade as this one rises
                        if abs(v.end - t) < 1e-6:
                            v.release = overlap
                            v.end = t + 0.5 * overlap
                            if v.segments:
                                a, _, row = v.segments[-1]
                                v.segments[-1] = (a, v.end, row)
                self.note(state, t, t + length, texture, rise, release, steady)
                t += length
            previous = state
            if joined:
                continue
            u = r.random()
            if u < self.rests:
                t += log_uniform(r, 0.2, self.longest_rest)
                if r.random() < 0.3:
                    self.bursts.append((t - r.uniform(0.05, 0.4), r.uniform(0.05, 0.5), r.uniform(-45, -20)))
            elif u < 0.6:
                t += r.uniform(0.0, 0.03)
            else:
                t += log_uniform(r, 0.03, 0.15)
        return Performance(self.harp, self.seconds, self.voices, self.events, self.bursts)


def perform(rng, seconds=10.0):
    """Make one performance; about one in twenty has no harp in it at all."""
    harp = hp.random_harp(rng)
    if rng.random() < 0.05:
        return Performance(harp, seconds, [], [], [])
    return Player(rng, harp, seconds).play()


RISEN = float(np.arccos(1 - 2 * 10 ** (-10 / 20)) / np.pi)  # of a rise (half a cosine) is over 10 dB under its top


def as_heard(performance):
    """The same performance with starts where a listener places them: where a reed has risen to 10 dB
    under its level (perceptual attack time: Vos & Rasch 1981, Gordon 1987). Sounds stay as they are."""
    late = {}  # nominal start -> the least delay among the reeds that begin there
    voices = []
    for v in performance.voices:
        segments = list(v.segments)
        if segments and abs(segments[0][0] - v.start) < 1e-9:
            a, b, row = segments[0]
            delay = min(RISEN * v.rise, 0.6 * (b - a))
            segments[0] = (a + delay, b, row)
            late[a] = min(delay, late.get(a, delay))
        voices.append(replace(v, segments=segments))
    events = [replace(e, start=e.start + late.get(e.start, 0.0), end=e.end + late.get(e.end, 0.0))
              for e in performance.events]
    return replace(performance, voices=voices, events=events)
