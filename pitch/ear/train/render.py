"""Render performances to samples and frame labels.

Two kinds of reeds: sampled (the bank's note nearest in pitch, resampled along
the contour, held by its loop) and additive (wavetables of up to 40 partials,
one dark and one bright, mixed by loudness).
"""
import numpy as np

import bands
import harp as hp
import people as persons
import phrases

RATE, HOP, STEP = 22050, 256, 64  # STEP: samples between points of control curves
SECONDS = 10.0
FRAMES = int(SECONDS * RATE) // HOP + 1  # frame t is centred on sample t*HOP
SAMPLES = (FRAMES - 1) * HOP
TABLE = 2048


class Bank:
    """Notes of the bank, upsampled by two where reeds are read at varying speed."""

    def __init__(self, infos, samples):
        self.infos, self.samples = infos, samples
        self.reeds = {}  # (font, program) -> [(hz, info, bright, dark)]
        for info in infos:
            if info["kind"] != "reed" or info["match"] < 0.3:
                continue
            x = samples[info["offset"]:info["offset"] + info["count"]].astype(np.float32) / 32768 / info["rms"]
            bright = upsample(x)
            dark = lowpass(bright, 2.2 * info["hz"], 2 * RATE)
            self.reeds.setdefault((info["font"], info["program"]), []).append((info["hz"], info, bright, dark))
        self.notes = {}  # kind -> (font, program) -> [info]
        for info in infos:
            if info["kind"] != "reed":
                self.notes.setdefault(info["kind"], {}).setdefault((info["font"], info["program"]), []).append(info)

    def wave(self, info):
        return self.samples[info["offset"]:info["offset"] + info["count"]].astype(np.float32) / 32768


def upsample(x):
    spectrum = np.fft.rfft(x)
    return (np.fft.irfft(spectrum, 2 * len(x)) * 2).astype(np.float32)


def lowpass(x, corner, rate):
    """First-order low-pass magnitude, zero phase, louder than its share so that both tables match."""
    f = np.fft.rfftfreq(len(x), 1 / rate)
    y = np.fft.irfft(np.fft.rfft(x) / (1 + (f / corner) ** 2), len(x))
    return (y / (np.sqrt(np.mean(y ** 2)) + 1e-9) * np.sqrt(np.mean(x ** 2))).astype(np.float32)


def smooth_noise(rng, n, hertz):
    """Random curve of about unit deviation with changes at the given rate, at control points."""
    count = max(2, int(n * STEP / RATE * hertz) + 2)
    return np.interp(np.linspace(0, count - 1, n), np.arange(count), rng.normal(0, 1, count))


class Timbre:
    """The sound of one harp in one performance."""

    def __init__(self, rng, bank, heldout):
        r = self.rng = rng
        self.bank = bank
        self.sampled = bank is not None and r.random() < 0.42
        self.seed = int(r.integers(1 << 31))
        if self.sampled:
            keys = [k for k in bank.reeds if k[1] == 22] * 4 + list(bank.reeds)
            self.set = bank.reeds[keys[r.integers(len(keys))]]
            self.speed = 2 ** (r.uniform(-4, 4) / 12) if (heldout or r.random() < 0.6) else 1.0
        self.slope = r.uniform(0.1, 2.2)
        self.odd = r.normal(2, 3) if r.random() < 0.7 else r.normal(0, 5)  # dB, odd over even partials
        self.unlike = r.uniform(0, 4)  # dB, of the reeds among themselves in that
        self.scatter = r.uniform(1, 6)
        self.formants = [(phrases.log_uniform(r, 350, 6500), r.uniform(-12, 14), r.uniform(0.8, 6))
                         for _ in range(r.integers(1, 5))]
        self.high = (phrases.log_uniform(r, 150, 1500), r.choice([0, r.uniform(0, 3)]))
        self.low = (phrases.log_uniform(r, 1800, 9000), r.uniform(0.5, 4))
        self.darkness = r.uniform(0.3, 3.0)  # dB a partial between the dark and the bright table
        self.follow = r.uniform(0.3, 1.5)
        self.phases = r.uniform(0, 2 * np.pi, 64) if r.random() < 0.7 else np.zeros(64)
        self.noise = r.uniform(-65, -30)
        self.puff = r.uniform(0, 6)  # more breath noise as a note begins
        self.drift = r.choice([0, r.uniform(0, 0.9)])
        self.jitter = r.choice([0, r.uniform(0, 4), r.uniform(0, 4)])
        self.shimmer = r.uniform(0, 0.6)

    def tables(self, reed, hole, hertz, fundamental):
        """Dark, bright and drifted wavetables of one reed, all of unit power."""
        r = np.random.default_rng([self.seed, reed, hole])
        count = int(np.clip(10600 / hertz, 1, 40))
        n = np.arange(1, count + 1)
        f = n * hertz
        db = -20 * self.slope * np.log10(n) + np.where(n % 2 == 1, 0.5, -0.5) * (self.odd + r.normal(0, self.unlike))
        db = db + r.normal(0, self.scatter, count)
        for centre, gain, q in self.formants:
            db += gain / (1 + (q * np.log2(f / centre)) ** 2)
        db -= 10 * self.high[1] * np.log10(1 + (self.high[0] / f) ** 2)
        db -= 10 * self.low[1] * np.log10(1 + (f / self.low[0]) ** 2)
        out = []
        for tilt in (-self.darkness * (n - 1), 0, r.normal(0, 4, count)):
            amplitude = 10 ** ((db + tilt) / 20)
            amplitude[0] = max(amplitude[0], 1e-3 * amplitude.max()) * 10 ** (fundamental / 20)
            spectrum = np.zeros(TABLE // 2 + 1, complex)
            spectrum[1:count + 1] = amplitude * np.exp(1j * self.phases[:count])
            wave = np.fft.irfft(spectrum, TABLE)
            wave /= np.sqrt(np.mean(wave ** 2)) + 1e-12
            out.append(np.append(wave, wave[0]).astype(np.float32))
        return out


def control_curves(rng, voice, timbre, points):
    """Pitch (semitones above the base), amplitude and brightness 0..1 at control times."""
    t = voice.start + np.arange(points) * STEP / RATE
    mod = voice.mod
    pitch = np.interp(t, voice.times, voice.pitches)
    body, depth, place = mod["body"]
    whole = max(voice.end - voice.start, 1e-3)
    x = np.clip((t - voice.start) / whole, 0, 1)
    if body == "swell":
        db = -depth * np.abs(x - place) / max(place, 1 - place)
    elif body == "fade":
        db = -depth * x
    elif body == "grow":
        db = -depth * (1 - x)
    elif body == "accent":
        db = depth * 0.6 * np.exp(-np.maximum(t - voice.start, 0) / (0.03 + 0.1 * place))
    else:
        db = np.zeros(points)
    shared = np.random.default_rng(mod["seed"])
    db = db + mod["flutter"] * smooth_noise(shared, points, 4) + timbre.shimmer * smooth_noise(rng, points, 40)
    pitch = pitch + 0.01 * timbre.jitter * smooth_noise(rng, points, 25)
    tone = np.zeros(points)
    if mod["vibrato"]:
        swing = np.sin(2 * np.pi * mod["vibrato_hz"] * (t - voice.start) + mod["vibrato_phase"])
        swing *= np.clip((t - voice.start - mod["vibrato_delay"]) / 0.2, 0, 1)
        pitch = pitch + 0.01 * mod["vibrato"] * swing
        db = db + 0.5 * mod["vibrato_db"] * swing
    if mod["tremolo"]:
        swing = np.sin(2 * np.pi * mod["tremolo_hz"] * (t - voice.start) + mod["tremolo_phase"])
        db = db + 0.5 * mod["tremolo"] * swing
        tone = 0.25 * swing
    for a, b, dip in voice.dips:
        edge = min(0.008, 0.3 * (b - a))
        depth_here = np.clip((t - a) / edge, 0, 1) * np.clip((b + edge - t) / edge, 0, 1)
        db = db - dip * depth_here
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip((t - voice.start) / max(voice.rise, 1e-3), 0, 1))
    fall = np.cos(0.5 * np.pi * np.clip((t - voice.end + 0.8 * voice.release) / max(voice.release, 1e-3), 0, 1)) ** 2
    amplitude = rise * fall * 10 ** (db / 20)
    bright = np.clip(amplitude, 0, 1.6) ** timbre.follow / 1.3 + tone
    if not voice.steady:  # upper partials come later than the lower ones
        bright *= np.clip((t - voice.start) / (1.5 * voice.rise + 1e-3), 0, 1)
    return pitch, amplitude * 10 ** (voice.level / 20), np.clip(bright, 0, 1)


def render_voice(rng, voice, timbre, base):
    """Samples of one voice from its start on."""
    length = voice.end - voice.start + 0.2 * voice.release
    points = int(np.ceil(length * RATE / STEP)) + 2
    pitch, amplitude, bright = control_curves(rng, voice, timbre, points)
    hertz = 440 * 2 ** ((base + pitch - 69) / 12)
    n = (points - 1) * STEP
    at = np.arange(n, dtype=np.float32) / STEP
    grid = np.arange(points, dtype=np.float32)
    speed = np.interp(at, grid, hertz)
    mix = np.interp(at, grid, bright).astype(np.float32)
    gain = np.interp(at, grid, amplitude).astype(np.float32)
    if timbre.sampled:
        x = read_sample(rng, timbre, voice, speed, mix)
        if voice.fundamental:
            x = cut_fundamental(x, float(np.median(hertz)), voice.fundamental)
    else:
        dark, light, drifted = timbre.tables(voice.reed, voice.hole, float(hertz.max()), voice.fundamental)
        phase = np.cumsum(speed / RATE) + rng.random()
        place = (phase - np.floor(phase)) * TABLE
        index = place.astype(np.int32)
        part = (place - index).astype(np.float32)
        a = dark[index] + part * (dark[index + 1] - dark[index])
        b = light[index] + part * (light[index + 1] - light[index])
        x = a + mix * (b - a)
        if timbre.drift > 0 and n > 4000:  # partials wander against each other
            weight = np.interp(at, grid, timbre.drift * np.clip(0.5 + 0.4 * smooth_noise(rng, points, 3), 0, 1))
            c = drifted[index] + part * (drifted[index + 1] - drifted[index])
            x = x + weight.astype(np.float32) * (c - x)
    if voice.hollow:  # the first partial comes and goes
        there = np.interp(at, grid, np.clip(0.5 + smooth_noise(rng, points, 2.5), 0, 1)).astype(np.float32)
        x = x + there * (cut_fundamental(x, float(np.median(hertz)), voice.hollow) - x)
    if timbre.noise > -60:
        puff = 0.0 if voice.steady else timbre.puff * np.exp(-at * np.float32(STEP / RATE / 0.02))
        x = x + 10 ** (timbre.noise / 20) * np.diff(rng.standard_normal(n + 1, dtype=np.float32)) * (0.5 + mix + puff)
    return x * gain


def read_sample(rng, timbre, voice, speed, mix):
    target = float(np.median(speed))
    hz, info, bright, dark = min(timbre.set, key=lambda s: abs(np.log(s[0] * timbre.speed / target))
                                 + rng.uniform(0, 0.06))
    start = 2 * (info["on"] if not voice.steady and rng.random() < 0.75 else info["loop"])
    if start >= 2 * info["end"] - 100:
        start = 2 * info["loop"]
    # read the note, stored at twice the rate, at the speed that gives the wanted pitch
    place = start + 2 * np.cumsum(speed / hz)
    first, last = 2 * info["loop"], 2 * info["end"]
    place = np.where(place < last, place, first + (place - first) % (last - first))
    index = np.minimum(place.astype(np.int32), last - 2)
    part = (place - index).astype(np.float32)
    a = dark[index] + part * (dark[index + 1] - dark[index])
    b = bright[index] + part * (bright[index + 1] - bright[index])
    return a + (0.3 + 0.7 * mix) * (b - a)


def cut_fundamental(x, hertz, db):
    spectrum = np.fft.rfft(x, len(x) + 512)
    f = np.arange(len(spectrum)) * RATE / (len(x) + 512)
    gain = 10 ** (db / 20 * np.clip((1.7 - f / hertz) / 0.3, 0, 1))
    return np.fft.irfft(spectrum * gain, len(x) + 512)[:len(x)].astype(np.float32)


def equalise(rng, x, depth):
    """A random smooth curve over log frequency, zero phase."""
    n = 1 << int(np.ceil(np.log2(len(x) + 2048)))
    f = np.fft.rfftfreq(n, 1 / RATE)
    knots = np.geomspace(80, 11025, 8)
    db = np.interp(np.log(np.maximum(f, 20)), np.log(knots), rng.normal(0, depth, 8))
    return np.fft.irfft(np.fft.rfft(x, n) * 10 ** (db / 20), n)[:len(x)]


def render(rng, performance, bank, heldout=False):
    """Samples (float32, peak 0.9 at most) of a performance."""
    timbre = Timbre(rng, bank, heldout)
    out = np.zeros(SAMPLES + RATE, np.float32)
    for voice in performance.voices:
        if voice.start > performance.seconds or voice.end < 0.01:
            continue
        x = render_voice(rng, voice, timbre, performance.harp.base)
        first = int(round(voice.start * RATE))
        if first < 0:
            x, first = x[-first:], 0
        x = x[:len(out) - first]
        out[first:first + len(x)] += x
    level = np.sqrt(np.mean(out ** 2) / max(0.05, np.mean(np.abs(out) > 1e-3)))  # where there is sound
    for start, pitches, lengths, db in performance.sung:
        x = bands.sing(rng, np.array(pitches), np.array(lengths), False, rng.uniform(0.95, 1.2))
        first = max(0, int(start * RATE))
        x = x[:max(0, len(out) - first)]
        out[first:first + len(x)] += x * np.float32(max(level, 0.05) * 10 ** (db / 20))
    out = out[:SAMPLES]
    for start, length, db in performance.bursts:
        first, n = int(start * RATE), int(length * RATE)
        burst = np.diff(rng.standard_normal(n + 1)) * np.hanning(n) * 10 ** (db / 20)
        burst = burst[max(0, -first):]
        first = max(0, first)
        burst = burst[:max(0, SAMPLES - first)]
        out[first:first + len(burst)] += burst
    if out.any():
        out = equalise(rng, out, rng.uniform(0, 6 if not heldout else 8))
        out = out / np.abs(out).max() * 0.9
    return out.astype(np.float32)


def label(performance):
    """Frame labels: rows [T][40] (bit 0 sounding, bit 1 attacked at this frame) and
    globals [T][3] (breath 0 none, 1 blow, 2 draw; reeds 0..3; event attack), uint8."""
    rows = np.zeros((FRAMES, hp.ROWS), np.uint8)
    whole = np.zeros((FRAMES, 3), np.uint8)
    for voice in performance.voices:
        for start, end, row in voice.segments:
            a, b = int(round(start * RATE / HOP)), int(round(end * RATE / HOP))
            b = max(b, a + 1)
            if a >= FRAMES or b <= 0:
                continue
            rows[max(a, 0):b, row] |= 1
            if a >= 0:
                rows[a, row] |= 2
    for event in performance.events:
        a, b = int(round(event.start * RATE / HOP)), int(round(event.end * RATE / HOP))
        if a >= FRAMES or b <= 0:
            continue
        whole[max(a, 0):max(b, a + 1), 0] = event.breath + 1
        if a >= 0:
            whole[a, 2] = 1
    count = (rows & 1).sum(axis=1)
    whole[:, 1] = np.minimum(count, 3)
    # where a reed still sounds after its event has ended the breath goes on
    for t in np.nonzero((count > 0) & (whole[:, 0] == 0))[0]:
        whole[t, 0] = whole[t - 1, 0] if t > 0 else 0
    whole[count == 0, 0] = 0
    return rows, whole


def make(seed, bank, heldout=False, people=0.0):
    """One performance by its seed, by chance `people` as people play, with starts where they are heard:
    samples int16, rows, globals, base MIDI number, layout features."""
    rng = np.random.default_rng(seed)
    player = persons if people > 0 and rng.random() < people else phrases
    performance = phrases.as_heard(player.perform(rng, SECONDS))
    x = render(rng, performance, bank, heldout)
    rows, whole = label(performance)
    return (np.round(x * 32767).astype(np.int16), rows, whole, performance.harp.base,
            hp.features(performance.harp.notes))
