"""Performances as people play them, with truth as a listener writes it down.

What real recordings do and made ones lack: reeds that enter one after the other,
soft starts, ends that ring on sharp, smeared changes of breath, chugging chords,
thirds held between two bends, fast runs through bends, rakes, slow shakes,
repeats with shallow dips, worn harps, first partials that go missing, reeds that
ring in sympathy, voices that hum along. Figures: measured in recordings of
players, by two annotators apart. What rings on, bleeds in or hums has no label.
"""
import numpy as np

import harp as hp
import phrases
from phrases import Event, Voice, log_uniform

CLEAR = 0.08  # s, a reed that comes in later than this begins an event of its own
FAINT = -10.0  # dB, a reed of a chord that far under the strongest is not written
SECOND = -12.0  # dB, the same for the second of two neighbours
FAR = -14.0  # dB, the same for a reed of a split, which no neighbour explains
FLAT = 0.4  # semitones, a reed held flatter than this is written as bent by one


STYLES = {"melody": 0.22, "fast": 0.06, "long": 0.1, "mixed": 0.13, "chordal": 0.07, "double": 0.13, "split": 0.13,
          "train": 0.06, "blues": 0.1}
PAIRED = {"double": 0.85, "blues": 0.15}  # mostly double stops, as in some recordings


class Person(phrases.Player):
    """A player with a person's habits, drawn once."""

    def __init__(self, rng, harp, seconds, styles=STYLES):
        super().__init__(rng, harp, seconds)
        r = rng
        habit = lambda chance, low, high: r.uniform(low, high) if r.random() < chance else 0.0
        self.style = r.choice(list(styles), p=list(styles.values()))
        self.textures = np.array([1.0, r.uniform(0.2, 1.5), habit(0.6, 0, 0.6), habit(0.5, 0, 0.4)])
        if self.style == "chordal":
            self.textures = np.array([0.3, 0.9, 0.2, 0.9])
        if self.style == "split":
            self.textures = np.array([0.3, 0.2, 1.0, 0.05])
        if self.style == "double":
            self.textures = np.array([0.1, 1.0, 0.05, 0.1])
        self.textures /= self.textures.sum()
        self.bending = r.uniform(0.05, 0.3 if self.style in ("double", "split") else 0.8)
        self.staggered = habit(0.75, 0.1, 0.7)  # chance that reeds of several enter apart
        self.soft = habit(0.6, 0.15, 0.9)  # chance of a start without tongue
        self.bumps = habit(0.5, 0.2, 0.9)  # chance that the end of a breath rings on sharp
        self.smears = habit(0.7, 0.2, 1.0)  # chance that both breaths sound at a change
        self.blue = habit(0.5, 0.2, 0.9)  # chance of a reed held between two bends
        self.blueness = r.uniform(0.4, 0.8)  # semitones flat
        self.hollow = habit(0.5, 0.1, 0.7)  # chance of a first partial that goes missing
        self.sympathy = habit(0.45, 0.1, 0.8)  # chance of upper reeds that ring with partials
        self.leaks = habit(0.8, 0.1, 0.7)  # chance that a hole beside those played takes some of the breath
        self.passing = habit(0.4, 0.05, 0.3)  # chance of a passing note before a note
        self.swelling = habit(0.4, 0.05, 0.3)  # chance that one reed of several fades and comes back
        self.tick = r.uniform(0.1, 0.35)
        self.hole = int(r.choice([0, 1, 2, 3, 4, 5, 6, 7, 8], p=[0.08, 0.16, 0.2, 0.2, 0.12, 0.1, 0.06, 0.04, 0.04]))
        w = {"train": 0.01, "run": 0.02, "rake": 0.03, "waver": 0.015, "turn": 0.015, "repeat": 0.025}
        if self.style in ("double", "split"):
            w = {name: 0.2 * chance for name, chance in w.items()}
            w.update(rake=0.03, repeat=0.025)
        if self.style == "train":
            w.update(train=0.35)
        if self.style == "fast":
            w.update(run=0.08, rake=0.06, turn=0.03, repeat=0.05)
        if self.style == "blues":
            w.update(run=0.06, rake=0.04, waver=0.04, turn=0.04)
            self.blue = max(self.blue, 0.5)
        self.gestures = w

    def duration(self):
        r = self.rng
        if self.style == "fast":
            return log_uniform(r, 0.05, 0.22)
        if self.style == "long":
            return log_uniform(r, 0.6, 6.0)
        if r.random() < 0.45:
            return max(0.07, self.tick * r.choice([1, 1, 2, 2, 3, 4, 6]) * r.uniform(0.9, 1.1))
        return log_uniform(r, 0.07, 2.0)

    # moves of several notes: of the state, start and texture that were picked

    def gesture(self, state, start, texture):
        u = self.rng.random()
        for name, chance in self.gestures.items():
            if u < chance:
                return getattr(self, name)(state, start, texture)
            u -= chance
        return None

    def naturals(self, breath):
        return {s.hole: s for s in self.states if s.breath == breath and s.bend == 0}

    def voice(self, s, start, end, rise, release, level, mod, pitch=None, labelled=True, steady=False, row=None):
        """Add one reed with a plain or given contour (times, pitches), labelled as its own row or `row`."""
        times, pitches = pitch if pitch is not None else ([start], [self.pitch_of(s)])
        row = s.semitone + 1 if row is None else row
        self.voices.append(Voice(start, end, rise, release, s.reed, s.hole, times, pitches, level, mod,
                                 [(start, end, row)] if labelled else [], steady))
        return self.voices[-1]

    def chord(self, breath, low, start, end, level, flat, release, rise=0.01):
        """A chord from hole `low`: three reeds well, a fourth beside them far under or absent."""
        r, natural = self.rng, self.naturals(breath)
        mod, length = self.modulation(end - start, True), end - start
        reeds = [natural[h] for h in range(low, low + 3) if h in natural]
        for k, s in enumerate(reeds):
            p = self.pitch_of(s)
            contour = None
            if flat:
                contour = [start, start + min(0.06, 0.5 * length), end], [p - flat, p - 0.8 * flat, p - 0.3 * flat]
            self.voice(s, start, end, rise, release, level + r.uniform(-5, 0), mod, contour)
        outer = low + 3 if low == 0 or r.random() < 0.6 else low - 1
        if outer in natural and r.random() < 0.7:
            under = r.uniform(-20, -8)
            self.voice(natural[outer], start, end, rise, release, level + under, mod, labelled=under > FAINT)
        if reeds:
            self.events.append(Event(start, end, breath))

    def train(self, state, start, _texture):
        """Chugging: blow and draw chords low on the harp, with short weak ones between the strong."""
        r = self.rng
        low = int(r.choice([0, 0, 1, 1, 2]))
        tick, t, faster = r.uniform(0.11, 0.3), start, r.choice([1.0, 1.0, r.uniform(0.95, 1.0)])
        pattern = str(r.choice(["bD", "bDb", "BdB", "BBDD", "BdBd", "DDBB", "BD", "dDBb"]))
        flat = r.choice([0.0, r.uniform(0.2, 0.45)])
        smear = r.random() < 0.6
        for k in range(int(r.integers(4, 18))):
            kind = pattern[k % len(pattern)]
            weak, breath = kind.islower(), hp.DRAW if kind in "dD" else hp.BLOW
            length = r.uniform(0.06, 0.1) if weak else tick * r.uniform(0.85, 1.15)
            gap = 0.0 if smear and r.random() < 0.7 else r.uniform(0.012, 0.045)
            spill = r.uniform(0.03, 0.06) if gap == 0 else 0.0
            self.chord(breath, low, t, t + length, self.level() - (r.uniform(3, 11) if weak else 0),
                       flat if breath == hp.DRAW or r.random() < 0.2 else 0.0, 0.01 if not spill else spill,
                       rise=r.uniform(0.004, 0.025) if not spill else 0.6 * spill)
            if spill:  # the reeds ring on into the next breath, their labels do not
                for v in self.voices[-4:]:
                    if abs(v.end - (t + length)) < 1e-9:
                        v.end += 0.5 * spill
            t += length + gap
            tick *= faster
        return t

    def steps(self, states, start, lengths, loud=0.0):
        """Notes one after another in one breath, each fading as the next rises; every one is an event."""
        r, t = self.rng, start
        mod = self.modulation(float(np.sum(lengths)), True)
        base = self.level() + loud
        for k, (s, length) in enumerate(zip(states, lengths)):
            overlap = min(r.uniform(0.006, 0.02), 0.4 * length)
            begin = start if k == 0 else t
            last = k == len(states) - 1
            self.voice(s, begin, t + length + (0 if last else 0.5 * overlap), self.rise(length) if k == 0 else overlap,
                       self.release(length) if last else overlap, base + r.uniform(-3, 1), mod, steady=k > 0)
            self.events.append(Event(begin, t + length, s.breath))
            t += length
        return t

    def run(self, state, start, _texture):
        """Down or up through notes and bends of one breath, 35 to 90 ms each; the last is held."""
        r = self.rng
        own = {}
        for s in self.states:
            if s.breath == state.breath and s.bend >= 0:
                own.setdefault(s.semitone, s)
        ladder = [own[k] for k in sorted(own)]
        place = min(range(len(ladder)), key=lambda i: abs(ladder[i].semitone - state.semitone))
        way, count, chosen = int(r.choice([-1, -1, 1])), int(r.integers(3, 8)), []
        while len(chosen) < count and 0 <= place < len(ladder):
            chosen.append(ladder[place])
            place += way * int(r.choice([1, 1, 2, 3]))
        lengths = list(r.uniform(0.035, 0.09, len(chosen)))
        if r.random() < 0.7:
            lengths[-1] = log_uniform(r, 0.12, 0.8)
        return self.steps(chosen, start, lengths)

    def rake(self, state, start, _texture):
        """Across the holes of one breath at some 50 ms a step, one or two of them at a time, onto what is held."""
        r, natural = self.rng, self.naturals(state.breath)
        way, count, wide = int(r.choice([-1, 1, 1])), int(r.integers(2, 6)), int(r.choice([1, 1, 2]))
        holes = [h for h in (state.hole - way * k for k in range(count, -1, -1))
                 if all(q in natural for q in range(h, h + wide))]
        if not holes:
            return None
        lengths = list(r.uniform(0.038, 0.065) * r.uniform(0.8, 1.2, len(holes)))
        lengths[-1] = log_uniform(r, 0.1, 1.2)
        if wide == 1:
            return self.steps([natural[h] for h in holes], start, lengths)
        return self.slide([natural[h] for h in range(10) if h in natural], holes, state.breath, start, lengths)

    def slide(self, reeds, holes, breath, start, lengths):
        """Double stops from each of the holes on; a reed of two steps sounds on."""
        r, marks = self.rng, start + np.concatenate([[0.0], np.cumsum(lengths)])
        mod, base = self.modulation(float(marks[-1] - start), True), self.level()
        for s in reeds:
            of = [k for k, h in enumerate(holes) if s.hole in (h, h + 1)]
            if not of:
                continue
            first, last, overlap = of[0], of[-1], r.uniform(0.006, 0.02)
            a, b = float(marks[first]), float(marks[last + 1])
            v = self.voice(s, a, b + (0.5 * overlap if last < len(holes) - 1 else 0), overlap if first else self.rise(b - a),
                           overlap if last < len(holes) - 1 else self.release(b - a), base + r.uniform(-6, 1), mod,
                           steady=first > 0)
            v.segments = [(a, b, s.semitone + 1)]
        for a, b in zip(marks, marks[1:]):
            self.events.append(Event(float(a), float(b), breath))
        return float(marks[-1])

    def waver(self, state, start, _texture):
        """A bend and back about four times a second, low for 70 to 115 ms; one reed, no new attack."""
        r = self.rng
        own = {s.bend: s for s in self.states if s.hole == state.hole and s.breath == state.breath and s.bend >= 0}
        if 0 not in own or 1 not in own:
            return None
        t, times, pitches, segments = start, [start], [self.pitch_of(own[0])], []
        low_pitch, move, begun = self.pitch_of(own[1]), r.uniform(0.015, 0.035), start
        for _ in range(int(r.integers(1, 6))):
            high, low = r.uniform(0.1, 0.2), r.uniform(0.07, 0.115)
            times += [t + high, t + high + move, t + high + low, t + high + low + move]
            pitches += [pitches[0], low_pitch, low_pitch, pitches[0]]
            down, up = t + high + move / 2, t + high + low + move / 2
            segments += [(begun, down, own[0].semitone + 1), (down, up, own[1].semitone + 1)]
            begun, t = up, t + high + low + move
        end = t + r.uniform(0.1, 0.6)
        segments.append((begun, end, own[0].semitone + 1))
        self.voices.append(Voice(start, end, self.rise(0.2), self.release(end - start), state.reed, state.hole,
                                 times, pitches, self.level(), self.modulation(end - start, True), segments))
        for a, b, _ in segments:
            self.events.append(Event(a, b, state.breath))
        return end

    def turn(self, state, start, _texture):
        """A shake of 105 to 150 ms a turn: the levels of two neighbours cross, the last turns fade."""
        r, natural = self.rng, self.naturals(state.breath)
        pair = [natural.get(state.hole), natural.get(state.hole + (1 if state.hole < 9 else -1))]
        if None in pair:
            return None
        step, count = r.uniform(0.105, 0.15), int(r.integers(4, 20))
        base, mod = self.level(), self.modulation(step * count, True)
        cross, fading, t, k = r.uniform(0.03, 0.08), int(r.integers(0, 5)), start, int(r.integers(2))
        pitches = [self.pitch_of(s) for s in pair]
        for turn in range(count):
            length = step * r.uniform(0.9, 1.1)
            level = base + r.uniform(-2, 1) - 4.0 * max(0, turn - (count - 1 - fading))
            s = pair[(k + turn) % 2]
            a, b = (t if turn == 0 else t - 0.5 * cross), t + length + 0.5 * cross
            v = self.voice(s, a, b, cross, cross, level, mod, ([a], [pitches[(k + turn) % 2]]), steady=turn > 0)
            v.segments = [(t, t + length, s.semitone + 1)]
            self.events.append(Event(t, t + length, state.breath))
            t += length
        if r.random() < 0.3:  # the weaker neighbour never goes quite away
            self.voice(pair[0], start, t, 0.05, 0.05, base - r.uniform(14, 24), mod, labelled=False)
        return t

    def shake(self, state, start):
        """Most shakes are slow ones."""
        return (self.turn(state, start, "single") if self.rng.random() < 0.7 else None) or super().shake(state, start)

    def repeat(self, state, start, texture):
        """One sound repeated by the tongue in one breath, with dips of 4 to 9 dB only, some of them 8 ms short."""
        r = self.rng
        count, t = int(r.integers(2, 9)), start
        length, dip, width = log_uniform(r, 0.055, 0.3), r.uniform(4, 9), log_uniform(r, 0.008, 0.045)
        spans, dips = [], []
        for _ in range(count):
            end = t + length * r.uniform(0.88, 1.12)
            spans.append((t, end + width))
            dips.append((end, end + width, dip + r.uniform(-1, 1)))
            t = end + width
        spans[-1] = (spans[-1][0], dips.pop()[0])
        end, mod, base = spans[-1][1], self.modulation(t - start, True), self.level()
        rise, release = self.rise(length), self.release(length)
        reeds = self.partners(state, texture)
        levels = [0.0] + [r.uniform(-8, 0) for _ in reeds[1:]]
        for s, level in zip(reeds, levels):
            v = self.voice(s, start, end, rise, release, base + level, mod)
            v.dips = dips
            v.segments = [(a, b, s.semitone + 1) for a, b in spans]
        for a, b in spans:
            self.events.append(Event(a, b, state.breath))
        return end

    # one event

    def flats(self, sounding, length):
        """Semitones by which each reed is held flat, and the row that a listener writes."""
        r, out = self.rng, []
        bends = {(s.breath, s.hole) for s in self.states if s.bend == 1}
        hit = r.uniform(0.2, 0.45) if len(sounding) > 2 and r.random() < 0.2 else 0.0
        for s in sounding:
            down, row, bendable = hit, s.semitone + 1, s.bend == 0 and (s.breath, s.hole) in bends
            held = len(sounding) == 2 or s.hole == 3
            if bendable and held and s.breath == hp.DRAW and s.hole in (2, 3) and r.random() < self.blue:
                down = float(np.clip(self.blueness + r.normal(0, 0.06), 0.35, 0.85))
                row -= int(down > FLAT)
            elif bendable and len(sounding) > 1 and s.hole == 5 and length < 0.25 and r.random() < 0.4:
                down = r.uniform(0.4, 0.65)  # a fast chord: the reed is pulled, not bent
            out.append((down, row))
        return out

    def note(self, state, start, end, texture, rise, release, steady, slapped=True):
        r, base = self.rng, self.level()
        left = [v for v in self.voices[-8:] if v.segments and abs(v.segments[-1][1] - start) < 1e-6]
        sounding, length = self.partners(state, texture), end - start
        if len(sounding) == 1 and not steady and length > 0.12 and r.random() < self.passing:
            start, steady = self.pass_through(state, start, base), True
            rise, length = 0.012, end - start
            left = []
        if not steady and not left and length > 0.25 and r.random() < self.soft:
            rise = min(log_uniform(r, 0.1, 0.6), 0.7 * length)
        mod = self.modulation(length, steady or rise > 0.1)
        if rise > 0.1 and mod["body"][0] != "fade":
            mod["body"] = ("flat", 0.0, 0.5)
        begin, spill = start, 0.0
        if left and not steady and self.events and self.events[-1].breath != state.breath and r.random() < self.smears:
            spill = r.uniform(0.03, 0.06)  # both breaths sound
            for v in left:
                v.end, v.release = v.end + 0.5 * spill, spill
            begin, rise = start - 0.5 * spill, spill
        slap = slapped and not steady and not left and rise < 0.1 and length > 0.15 and r.random() < self.slaps
        burst = r.uniform(0.015, 0.05) if slap else 0.0
        levels = self.levels(len(sounding))
        faint = FAINT
        if len(sounding) == 2:
            faint = SECOND if abs(sounding[1].hole - sounding[0].hole) == 1 else FAR
        lags = self.lags(len(sounding), length, steady)
        flat = self.flats(sounding, length)
        first = len(self.voices)
        for s, level, (lag, slow), (down, row) in zip(sounding, levels, lags, flat):
            a, up = (begin, rise) if lag == 0 else (start + lag, slow)
            contour = self.line(s, a, end, down, len(sounding))
            v = self.voice(s, a, end, up, release, base + level, mod, contour, level > faint, steady, row)
            if v.segments and lag == 0 and (spill or burst):
                v.segments = [(start - burst, end, row)]
            if level < 0 and r.random() < 0.4:
                v.fundamental = -r.uniform(0, 20)
            if r.random() < self.hollow:
                v.hollow = -r.uniform(25, 50)
            if len(sounding) > 1 and level < 0 and length > 0.5 and r.random() < self.swelling:
                middle, half = r.uniform(0.3, 0.7) * length, r.uniform(0.08, 0.2) * length
                v.dips = [(start + middle - half, start + middle + half, r.uniform(12, 25))]
        self.write(start - burst, end, state.breath, first)
        if burst:
            self.slap(sounding[0], start, base, burst)
        self.around(sounding, start, end, base, mod, rise)
        if not self.joins and length > 0.1 and r.random() < self.bumps:
            self.bump(self.voices[first:first + len(sounding)], end)

    def levels(self, count):
        r = self.rng
        if count < 3:
            both = [0.0, self.second_level()]
            return [0.0] if count == 1 else both[::int(r.choice([-1, 1]))]
        out = list(r.uniform(-5, 0, min(count, 3))) + [r.uniform(-20, -8) for _ in range(count - 3)]
        return out[::int(r.choice([1, 1, -1]))]

    def lags(self, count, length, steady):
        """Seconds by which each reed comes in after the first, and how long it takes to rise; some take long."""
        r, out = self.rng, [(0.0, 0.0)] * count
        if count > 1 and r.random() < self.staggered:
            late = r.permutation(count)[:1 if count == 2 or r.random() < 0.6 else 2]
            for k in late:
                lag = r.uniform(0.02, 0.08) if r.random() < 0.25 else r.uniform(0.08, 0.25)
                if length > lag + 0.12:
                    out[k] = lag, min(r.uniform(0.3, 1.2) * lag, 0.15)
                if length > 0.8 and r.random() < 0.12:
                    out[k] = r.uniform(0.02, 0.5) * length, r.uniform(0.2, 0.45) * length
        return out

    def line(self, s, start, end, down, count):
        """The contour of one reed, held flat by `down` semitones, perhaps sliding there."""
        r, pitch = self.rng, self.pitch_of(s)
        if not down:
            return self.contour(pitch, start, end, s.bend >= 0 and count < 3)
        slide = r.uniform(0.03, 0.12)
        kind = r.random()
        if kind < 0.5 or end - start < 0.2:
            return [start], [pitch - down]
        if kind < 0.75:
            return [start, start + slide, end], [pitch - down + r.uniform(-0.3, 0.3), pitch - down, pitch - down]
        return [start, end - slide, end], [pitch - down, pitch - down, pitch - down + r.uniform(-0.2, 0.25)]

    def write(self, start, end, breath, first):
        """Events of the reeds that were just added: a reed that enters clearly later begins another."""
        heard = lambda v: v.segments[0][0] + phrases.RISEN * v.rise * (v.segments[0][0] == v.start)
        begun, marks = None, []
        for v in sorted((v for v in self.voices[first:] if v.segments), key=heard):
            if begun is None or heard(v) - begun > CLEAR:
                marks.append(v.segments[0][0])
                begun = heard(v)
        if marks:
            marks[0] = start
        for a, b in zip(marks, marks[1:] + [end]):
            self.events.append(Event(a, b, breath))

    def pass_through(self, state, start, base):
        """A passing note of 20 to 40 ms on a neighbour; returns where the note itself begins."""
        r = self.rng
        own = [s for s in self.states if s.breath == state.breath and s is not state]
        near = [s for s in own if s.bend == 0 and abs(s.hole - state.hole) == 1 or s.bend >= 0 and s.hole == state.hole]
        if not near:
            return start
        s, length = near[r.integers(len(near))], r.uniform(0.02, 0.04)
        self.voice(s, start, start + length + 0.006, 0.008, 0.012, base + r.uniform(-6, 1),
                   self.modulation(length, True))
        self.events.append(Event(start, start + length, state.breath))
        return start + length

    def around(self, sounding, start, end, base, mod, rise):
        """Reeds that ring in sympathy with partials, and neighbours that bleed in; none is written."""
        r = self.rng
        natural, holes = self.naturals(sounding[0].breath), {s.hole for s in sounding}
        if r.random() < self.sympathy:
            for s in natural.values():
                above = {s.semitone - q.semitone for q in sounding}
                if s.hole not in holes and above & {12, 19, 24, 28} and r.random() < 0.7:
                    a = start + min(r.uniform(0.02, 0.12), 0.3 * (end - start))
                    self.voice(s, a, end, max(rise, 0.04), 0.05, base + r.uniform(-32, -19), mod, labelled=False)
        if r.random() < self.leaks:
            near = [natural[h] for h in (min(holes) - 1, max(holes) + 1) if h in natural]
            for s in r.permutation(len(near))[:int(r.choice([1, 1, 2]))]:
                self.voice(near[s], start, end, max(rise, 0.02), 0.05, base + r.uniform(-24, -13), mod,
                           labelled=False)
        elif len(sounding) == 1 and r.random() < 0.15:
            near = [natural[h] for h in (sounding[0].hole - 1, sounding[0].hole + 1) if h in natural]
            if near:
                self.voice(near[r.integers(len(near))], start, end, rise, 0.03, base + r.uniform(-34, -19), mod,
                           labelled=False)

    def bump(self, voices, end):
        """The reeds ring on for 50 to 100 ms, 30 to 50 cents sharp, without breath."""
        r, length = self.rng, self.rng.uniform(0.05, 0.1)
        under, sharp = r.uniform(4, 16), r.uniform(0.3, 0.5)
        for v in voices:
            v.release = min(v.release, 0.03)
            p = float(np.interp(end, v.times, v.pitches))
            ring = Voice(end - 0.012, end + length, 0.012, 0.6 * length, v.reed, v.hole, [end - 0.012, end + 0.02],
                         [p + 0.5 * sharp, p + sharp], v.level - under, self.modulation(length, True), [], True)
            self.voices.append(ring)


def worn(rng, harp):
    """The harp with each reed off by up to 25 cents, in its own pattern; in half of them octaves are tuned."""
    off = np.clip(rng.normal(0, rng.uniform(4, 14), harp.notes.shape), -25, 25)
    if rng.random() < 0.5:
        off = off.ravel()[harp.notes % 12] + rng.normal(0, rng.uniform(0, 1), harp.notes.shape)
    return hp.Harp(harp.base, harp.notes, harp.cents + off, harp.layout)


def voices_beside(rng, performance):
    """Lines that the player hums along, an octave or two under the reeds or with them, and whoops."""
    out, base = [], performance.harp.base
    if performance.voices and rng.random() < 0.6:
        down, db = rng.choice([0, -12, -12, -24]), rng.uniform(-24, -7)
        for e in performance.events[:60]:
            rows = [v.pitches[-1] for v in performance.voices if v.segments and abs(v.start - e.start) < 0.02]
            if rows and e.end - e.start > 0.1 and rng.random() < 0.6:
                out.append((e.start, [base + rows[0] + down + rng.normal(0, 0.3)], [e.end - e.start],
                            db + rng.normal(0, 2)))
    else:
        for _ in range(int(rng.integers(1, 4))):
            count = int(rng.integers(1, 4))
            out.append((rng.uniform(0, performance.seconds - 1), list(rng.uniform(55, 74) + rng.normal(0, 4, count)),
                        list(rng.uniform(0.1, 0.5, count)), rng.uniform(-15, 0)))
    return out


def perform(rng, seconds=10.0, styles=STYLES):
    """One performance as people play, its style one of some with their chances."""
    harp = hp.random_harp(rng)
    if rng.random() < 0.65:
        harp = worn(rng, harp)
    out = Person(rng, harp, seconds, styles).play()
    if rng.random() < 0.08:
        out.sung = voices_beside(rng, out)
    return out
