"""Invented backing bands from the notes of the bank.

Progressions, feels and patterns are common practice, no source. `make` returns
12 s of samples at 22,050 Hz and the pitch class of the tonic. Nothing in a band
is labelled, not even a lead instrument in the harp's range.
"""
import numpy as np

RATE = 22050
SECONDS = 12.0
SAMPLES = int(SECONDS * RATE)

# degrees in semitones over the tonic, one a bar
PROGRESSIONS = [
    [0, 0, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7],
    [0, 5, 0, 0, 5, 5, 0, 0, 7, 5, 0, 7],
    [0, 0, 0, 0, 5, 5, 0, 9, 2, 7, 0, 7],
    [0, 7, 5, 5, 0, 7, 0, 7],
    [0, 9, 5, 7], [0, 10, 5, 0], [0, 3, 5, 0], [0], [0, 0, 5, 5], [0, 5, 7, 5],
]
# chord tones; the first group is for major keys
CHORDS = [[0, 4, 7], [0, 4, 7, 10], [0, 4, 7, 9], [0, 4, 10, 14], [0, 3, 7], [0, 3, 7, 10], [0, 7]]
SCALES = [[0, 3, 5, 6, 7, 10], [0, 2, 4, 7, 9], [0, 2, 4, 5, 7, 9, 10], [0, 3, 5, 7, 10]]
# how long the first of two eighths is, in beats, and the beats of the snare
FEELS = {"shuffle": (0.667, (1, 3)), "straight": (0.5, (1, 3)), "slow": (0.667, (1, 3)),
         "rumba": (0.5, (3,)), "rock": (0.5, (1, 3)), "ballad": (0.5, (2,)), "jazz": (0.64, ())}


# formants of vowels in Hz, of the order of those in Peterson & Barney 1952 (from memory)
VOWELS = [(730, 1090, 2440), (530, 1840, 2480), (270, 2290, 3010), (570, 840, 2410), (300, 870, 2240), (490, 1350, 1690)]


class Mix:
    """A buffer that notes are added to."""

    def __init__(self, rng, bank):
        self.rng, self.bank = rng, bank
        self.out = np.zeros(SAMPLES + RATE, np.float32)

    def choose(self, kind):
        sets = self.bank.notes[kind]
        keys = list(sets)
        return sets[keys[self.rng.integers(len(keys))]]

    def note(self, notes, pitch, start, length, db, vibrato=None, attack=0.003):
        info = min(notes, key=lambda n: abs(n["key"] - pitch) + self.rng.uniform(0, 0.8))
        if abs(info["key"] - pitch) > 9 or start >= SECONDS:
            return
        x = self.bank.wave(info)
        speed = 2 ** ((pitch - info["key"]) / 12)
        n = int(min(length + 0.06, (len(x) - 2) / speed / RATE) * RATE)
        if n < 200:
            return
        at = np.arange(n) * speed
        if vibrato:
            hertz, cents = vibrato
            t = np.arange(n) / RATE
            depth = cents / 1200 * np.log(2) * speed * np.clip(t / 0.3, 0, 1)
            at = at + np.cumsum(depth * np.sin(2 * np.pi * hertz * t))
        at = np.clip(at, 0, len(x) - 1.01)
        index = at.astype(np.int32)
        part = (at - index).astype(np.float32)
        y = x[index] + part * (x[index + 1] - x[index])
        fade = min(n // 2, int(0.05 * RATE))
        y[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
        ramp = min(n // 2, max(1, int(attack * RATE)))
        y[:ramp] *= np.linspace(0, 1, ramp, dtype=np.float32)
        self.add(y * (10 ** (db / 20) / max(info["rms"], 0.05)), start)

    def hit(self, name, kit, start, db):
        choices = [i for i in self.bank.notes.get(name, {}).get(kit, [])]
        if choices:
            self.add(self.bank.wave(choices[0]) * np.float32(10 ** (db / 20)), start)

    def add(self, x, start):
        first = int(start * RATE)
        if first < 0:
            x, first = x[-first:], 0
        n = min(len(x), len(self.out) - first)
        if n > 0:
            self.out[first:first + n] += x[:n]


class Song:
    def __init__(self, rng, bank):
        self.rng, self.mix = rng, Mix(rng, bank)
        r = rng
        self.feel = str(r.choice(list(FEELS)))
        low, high = {"slow": (50, 75), "ballad": (50, 85), "jazz": (90, 200)}.get(self.feel, (80, 180))
        self.beat = 60 / r.uniform(low, high)
        self.swing, self.backbeats = FEELS[self.feel]
        self.tonic = int(r.integers(12))
        self.roots = PROGRESSIONS[r.integers(len(PROGRESSIONS))]
        self.chord = CHORDS[r.choice(len(CHORDS), p=[0.2, 0.3, 0.12, 0.1, 0.12, 0.1, 0.06])]
        self.first_bar = int(r.integers(len(self.roots)))
        self.begin = -r.uniform(0, 4) * self.beat
        self.loose = r.uniform(0, 0.012)
        part = r.random()
        keep = lambda p: part > 0.25 and r.random() < p
        self.drums, self.bass, self.comp, self.pad, self.lead = (
            keep(0.8), keep(0.85), keep(0.8), keep(0.25), keep(0.45))
        if part <= 0.25:  # one or two players only
            for name in r.choice(["drums", "bass", "comp", "comp", "pad", "lead"], r.integers(1, 3)):
                setattr(self, str(name), True)
        if not any((self.drums, self.bass, self.comp, self.pad, self.lead)):
            self.comp = True
        self.levels = {n: r.uniform(-6, 4) for n in ("drums", "bass", "comp", "pad", "lead")}

    def when(self, beat):
        """Seconds at a beat; off-beats swing."""
        whole, part = int(np.floor(beat)), beat - np.floor(beat)
        if abs(part - 0.5) < 1e-6:
            part = self.swing
        return self.begin + (whole + part) * self.beat + self.rng.normal(0, self.loose)

    def root(self, bar):
        return (self.tonic + self.roots[(self.first_bar + bar) % len(self.roots)]) % 12

    def bars(self):
        return int(np.ceil((SECONDS - self.begin) / (4 * self.beat))) + 1

    def play(self):
        for name in ("drums", "bass", "comp", "pad", "lead"):
            if getattr(self, name):
                getattr(self, "play_" + name)(self.levels[name])
        return self.mix.out[:SAMPLES]

    def play_drums(self, db):
        r, m = self.rng, self.mix
        kits = list(m.bank.notes["kick"])
        kit = kits[r.integers(len(kits))]
        cymbal = str(r.choice(["hat", "ride", "hat", "openhat"]))
        snare = str(r.choice(["snare", "snare", "rim", "clap"], p=[0.5, 0.2, 0.25, 0.05]))
        kick = [b for b in (0, 0.5, 1, 1.5, 2, 2.5, 3, 3.5) if r.random() < (0.9 if b in (0, 2) else 0.25)]
        eighths = r.random() < 0.75
        for bar in range(self.bars()):
            for b in kick:
                m.hit("kick", kit, self.when(4 * bar + b), db - 6 + r.normal(0, 1.5))
            for b in self.backbeats:
                m.hit(snare, kit, self.when(4 * bar + b), db - 8 + r.normal(0, 1.5))
            for b in np.arange(0, 4, 0.5 if eighths else 1):
                if r.random() < 0.92:
                    m.hit(cymbal, kit, self.when(4 * bar + b), db - 14 - 4 * (b % 1 > 0) + r.normal(0, 1.5))
            if r.random() < 0.15:
                m.hit("crash", kit, self.when(4 * bar), db - 12)
            if r.random() < 0.12:
                for b in (3, 3.5):
                    m.hit(str(r.choice(["tomlow", "tomhigh", "snare"])), kit, self.when(4 * bar + b), db - 8)

    def play_bass(self, db):
        r, m = self.rng, self.mix
        notes = m.choose("bass")
        pattern = r.choice(["walk", "roots", "eighths", "two"])
        third = 4 if 4 in self.chord else 3
        for bar in range(self.bars()):
            low = 28 + (self.root(bar) - 28) % 12
            if pattern == "walk":
                steps = [(b, r.choice([0, third, 7, 9, 10, 12, 5])) for b in range(4)]
                steps[0] = (0, 0)
            elif pattern == "roots":
                steps = [(0, 0), (1, third), (2, 7), (3, 9)]
            elif pattern == "eighths":
                steps = [(b, 0 if r.random() < 0.8 else 7) for b in np.arange(0, 4, 0.5)]
            else:
                steps = [(0, 0), (2, 7)]
            gap = 4 / len(steps)
            for b, up in steps:
                m.note(notes, low + int(up), self.when(4 * bar + b), gap * self.beat * r.uniform(0.7, 1), db - 14 + r.normal(0, 1))

    def play_comp(self, db):
        r, m = self.rng, self.mix
        for _ in range(r.choice([1, 1, 2])):
            notes = m.choose(str(r.choice(["piano", "guitar", "organ", "guitar", "piano"])))
            pattern = r.choice(["chops", "held", "eighths", "boogie", "random", "triplets"])
            centre = r.integers(50, 68)
            level = db - 19 + r.uniform(-4, 2)
            for bar in range(self.bars()):
                root = centre + (self.root(bar) - centre) % 12 - (12 if r.random() < 0.2 else 0)
                if pattern == "chops":
                    hits = [(1, 0.4), (3, 0.4)]
                elif pattern == "held":
                    hits = [(0, 4)]
                elif pattern == "eighths":
                    hits = [(b, 0.45) for b in np.arange(0, 4, 0.5)]
                elif pattern == "triplets":
                    hits = [(b / 3, 0.3) for b in range(12)]
                elif pattern == "boogie":
                    for k, b in enumerate(np.arange(0, 4, 0.5)):
                        top = 9 if k % 4 in (2, 3) else 7
                        for up in (0, top):
                            m.note(notes, root + up, self.when(4 * bar + b), 0.45 * self.beat, level)
                    continue
                else:
                    hits = [(b, r.uniform(0.2, 1.5)) for b in np.arange(0, 4, 0.5) if r.random() < 0.35]
                for b, length in hits:
                    for up in self.chord:
                        m.note(notes, root + up, self.when(4 * bar + b) + r.uniform(0, 0.012), length * self.beat, level)

    def play_pad(self, db):
        r, m = self.rng, self.mix
        notes = m.choose(str(r.choice(["strings", "voice", "organ"])))
        for bar in range(self.bars()):
            root = 55 + (self.root(bar) - 55) % 12
            start = self.when(4 * bar)
            for up in self.chord:
                for part in range(max(1, int(4 * self.beat / 1.4))):
                    m.note(notes, root + up, start + 1.4 * part, 1.5, db - 22, attack=0.12)

    def play_lead(self, db):
        r, m = self.rng, self.mix
        if r.random() < 0.3:
            return self.play_singer(db)
        kind = str(r.choice(["sax", "organ", "guitar", "voice", "trumpet", "strings", "piano", "flute", "voice", "sax"]))
        notes = m.choose(kind)
        keys = [n["key"] for n in notes]
        low, high = max(52, min(keys)), min(90, max(keys))
        scale = SCALES[r.integers(len(SCALES))]
        ladder = [p for p in range(low, high + 1) if (p - self.tonic) % 12 in scale]
        place, t = int(r.integers(len(ladder))), r.uniform(-0.5, 2)
        vibrato = (r.uniform(4.5, 6.5), r.uniform(8, 45)) if kind not in ("piano", "organ") and r.random() < 0.7 else None
        attack = r.uniform(0.003, 0.06) if kind in ("strings", "voice", "sax", "flute") else 0.003
        while t < SECONDS:
            length = self.beat * r.choice([1 / 3, 0.5, 0.5, 2 / 3, 1, 1.5, 2, 4])
            place = int(np.clip(place + r.integers(-2, 3), 0, len(ladder) - 1))
            m.note(notes, ladder[place], t, length, db - 14 + r.normal(0, 1.5), vibrato, attack)
            t += length
            if r.random() < 0.15:
                t += self.beat * r.uniform(0.5, 4)


    def play_singer(self, db):
        """Sung or spoken lines: a pulse train that glides, through the formants of vowels."""
        r, m = self.rng, self.mix
        centre, spoken, size = r.uniform(48, 73), r.random() < 0.25, r.uniform(0.95, 1.25)
        t = r.uniform(-0.5, 2)
        while t < SECONDS:
            syllables = int(r.integers(2, 9))
            lengths = np.exp(r.uniform(np.log(0.12), np.log(0.25 if spoken else 0.9), syllables))
            x = sing(r, self.line(centre, syllables, spoken), lengths, spoken, size)
            m.add(x * np.float32(10 ** ((db - 14 + r.normal(0, 1.5)) / 20)), t)
            t += lengths.sum() + self.beat * r.choice([0.3, 1, 2, 4])

    def line(self, centre, count, spoken):
        """MIDI numbers of the syllables of a line."""
        r = self.rng
        if spoken:
            return centre - 6 + np.cumsum(r.normal(0, 1.5, count))
        scale = SCALES[r.integers(len(SCALES))]
        ladder = [p for p in range(int(centre) - 8, int(centre) + 12) if (p - self.tonic) % 12 in scale]
        place = np.clip(len(ladder) // 2 + np.cumsum(r.integers(-2, 3, count)), 0, len(ladder) - 1)
        return np.array([ladder[p] for p in place]) + r.normal(0, 0.15, count)


def sing(r, pitches, lengths, spoken, size):
    """A line of syllables, MIDI numbers and seconds, as samples of unit level. Source and
    filter (Fant 1960): each partial weighed by the resonances at its frequency."""
    n = int(lengths.sum() * RATE)
    t, ends = np.arange(n) / RATE, np.cumsum(lengths)
    begin = ends - lengths
    glide = r.uniform(0.03, 0.15)
    times, values = [], []
    for p, a, b in zip(pitches, begin, ends):
        times += [a + min(glide, 0.4 * (b - a)), b]
        values += [p, p + (r.uniform(-2, 1) if r.random() < 0.3 else 0)]
    pitch = np.interp(t, times, values)
    pitch = pitch + r.uniform(0, 0.5) * (not spoken) * np.sin(2 * np.pi * r.uniform(4.5, 6.5) * t)
    phase = 2 * np.pi * np.cumsum(440 * 2 ** ((pitch - 69) / 12) / RATE)
    hertz = np.gradient(phase) * RATE / (2 * np.pi)
    vowels = np.array([VOWELS[r.integers(len(VOWELS))] for _ in pitches]) * size
    middle = (begin + ends) / 2
    formants = [np.interp(t, middle, vowels[:, k]) for k in range(3)] + [np.full(n, 3500 * size)]
    tilt, x = r.uniform(0.8, 1.6), np.zeros(n)
    for k in range(1, int(min(40, 5000 / hertz.mean())) + 1):
        f = k * hertz
        power = sum(10 ** (-0.35 * j) / (1 + ((f - f0) / (40 + 0.06 * f0)) ** 2) for j, f0 in enumerate(formants))
        x += k ** -tilt * np.sqrt(power + 1e-3) * np.sin(k * phase) * (f < 9000)
    loud = np.minimum(1, np.min([np.abs(t - e) for e in ends[:-1]], axis=0) / 0.03) if len(ends) > 1 else np.ones(n)
    loud = np.maximum(loud, 0.5) * np.clip(t / 0.04, 0, 1) * np.clip((ends[-1] - t) / 0.08, 0, 1)
    x = x / (x.std() + 1e-9) * loud
    for a in begin:  # consonants
        if r.random() < 0.5:
            k, w = int(a * RATE), int(r.uniform(0.02, 0.1) * RATE)
            burst = np.diff(r.standard_normal(w + 1)) * np.hanning(w) * r.uniform(0.05, 0.5)
            x[k:k + w] += burst[:n - k]
    return x.astype(np.float32)


def make(seed, bank):
    """One band: samples int16 at peak 0.9, tonic pitch class."""
    song = Song(np.random.default_rng(seed), bank)
    x = song.play()
    peak = np.abs(x).max()
    if peak > 0:
        x = x / peak * 0.9
    return np.round(x * 32767).astype(np.int16), song.tonic
