"""Write clips with their truth, for fitting and judging what comes after the ear.

    python3 clips.py --count 24 --seed 1000000007 OUT
    python3 clips.py --under FOLDER --seed 1000000007 OUT
    python3 clips.py --alone --recorded NAME --seed 1000000007 OUT
    python3 clips.py --people --rests --recorded NAME --count 24 --seed 1000000007 OUT

The first makes `count` performances of 10 s for each tier of TIERS, of other seeds
than training's, with --people as people play and starts where they are heard, with
--paired the same with many double stops; the second puts a band under clips that
FOLDER already has, their sound there or in the folder --sound, once for each tier that has a band. With --recorded NAME the
bands are recorded excerpts (recorded.py); the third writes these by themselves, two of one after another, half of them
as they come by telephone. With --rests a clip lasts 30 s, of which the harp plays in two thirds,
in one or in none; three in ten come by telephone. NAME.wav and NAME.truth.json go to OUT; the keys of the truth are
those that the package tabber/lab/truth reads.

Left out are performances with overblows or overdraws, which the program looks for
only when told to, and harps whose layout has no name.
"""
import argparse
import glob
import json
import os
import wave

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import numpy as np
import torch

import bands
import bank as banks
import effects
import harp as hp
import people
import phrases
import recorded
import render

RATE = render.RATE
SPACE = 0.45  # s, the least gap between phrases
LEAST = 0.5  # of the shorter of a reed's stretch and an event that must sound together
CLOSE = dict(effects.QUIET, coding=0.3, wah=0.2, room=0.3, t60=(0.2, 1.5), wet_db=(-25, -10))
BAND = dict(CLOSE, band=1, amp=0.3, room=0.6, record=0.15, wet_db=(-22, -6), snr_db=(30, 60))
TIERS = {
    "solo": CLOSE,
    "solo-room": dict(CLOSE, room=1, t60=(0.8, 3.0), wet_db=(-14, -3)),
    "solo-amp": dict(CLOSE, amp=1, room=0.5),
    "solo-record": dict(CLOSE, record=1, snr_db=(22, 40)),
    "band0": dict(BAND, harp_db=(-1, 2)),
    "band+3": dict(BAND, harp_db=(2, 5)),
    "band+6": dict(BAND, harp_db=(5, 8)),
    "band+10": dict(BAND, harp_db=(8, 12)),
}
KEYS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]


def harp_name(base):
    """How players call the harp whose hole 1 blow is the whole MIDI number."""
    octave = (base - 55) // 12
    return {-2: "double low ", -1: "low ", 0: "", 1: "high "}[octave] + KEYS[base % 12]


def events(performance):
    """What a player would write: dicts of start, end, breath, holes, bends and pitches."""
    harp, out = performance.harp, []
    whole = round(harp.base)
    for e in sorted(performance.events, key=lambda e: e.start):
        start, end = max(e.start, 0.0), min(e.end, performance.seconds)
        if end - start < min(0.03, e.end - e.start):
            continue
        reeds = {}
        for v in performance.voices:
            for a, b, row in v.segments:
                both = min(b, e.end) - max(a, e.start)
                if both > LEAST * min(b - a, e.end - e.start):
                    reeds[v.hole] = row
        if not reeds:
            continue
        notes = harp.notes[e.breath]
        out.append({
            "start": round(start, 4), "end": round(end, 4), "breath": "draw" if e.breath == hp.DRAW else "blow",
            "holes": [h + 1 for h in sorted(reeds)],
            "bends": [int(notes[h] - (reeds[h] - 1)) for h in sorted(reeds)],
            "midi": [round(harp.base + reeds[h] - 1, 4) for h in sorted(reeds)],
            "texture": texture(sorted(reeds)),
            **playing(performance, e, reeds),
        })
    assert abs(harp.base - whole) <= 0.5
    return out


def texture(holes):
    """What holes that sound together are called."""
    if len(holes) == 1:
        return "single"
    if holes[-1] - holes[0] >= len(holes):
        return "split"
    return "double" if len(holes) == 2 else "chord"


def playing(performance, event, holes):
    """How an event is played: marks, cents that it is scooped from, depth (cents each way) and rate (Hz) of its
    vibrato; a hand vibrato is one of loudness and tone alone. Shakes and glides have no marks here."""
    marks, scoop, cents, hertz = [], 0.0, 0.0, 0.0
    for v in performance.voices:
        if v.hole not in holes or len(v.segments) != 1 or abs(v.end - event.end) > 1e-6 and abs(v.start - event.start) > 0.06:
            continue
        if len(v.pitches) == 3 and v.pitches[0] < v.pitches[2]:
            scoop = max(scoop, 100 * (v.pitches[2] - v.pitches[0]))
        elif len(v.pitches) == 3 and v.pitches[2] < v.pitches[0]:
            marks.append("fall")
        elif len(v.pitches) == 4:
            marks.append("dip")
        if event.end - event.start < 0.3:
            continue
        if v.mod["vibrato"]:
            cents, hertz = v.mod["vibrato"], v.mod["vibrato_hz"]
        elif v.mod["tremolo"]:
            hertz = v.mod["tremolo_hz"]
    slapped = any(s.start < event.start + 1e-6 and not s.segments and s.end - s.start < 0.06 and s.end > event.start
                  for s in performance.voices)
    for name, there in ("scoop", scoop), ("vibrato", cents), ("hand-vibrato", hertz and not cents), ("slap", slapped):
        if there:
            marks.append(name)
    return {"marks": sorted(set(marks)), "scoop": round(scoop, 1), "vib": round(cents, 1), "vibrate": round(hertz, 2)}


def phrases_of(events):
    out = []
    for e in events:
        if out and e["start"] - out[-1][1] < SPACE:
            out[-1][1] = max(out[-1][1], e["end"])
        else:
            out.append([e["start"], e["end"]])
    return out


def performance(seed, bank, styles):
    """A performance, as people play if `styles` are given, that the truth file can tell: its samples and truth."""
    for turn in range(1000):
        rng = np.random.default_rng([*seed, turn])
        p = phrases.as_heard(people.perform(rng, render.SECONDS, styles)) if styles else phrases.perform(rng, render.SECONDS)
        if p.harp.layout == "altered":
            continue
        x = render.render(rng, p, bank, heldout=True)
        written = events(p)
        if any(b < 0 for e in written for b in e["bends"]):
            continue
        base = round(p.harp.base)
        return x, {"harp": harp_name(base), "layout": p.harp.layout.replace(" ", "-"),
                   "offset": round(100 * (p.harp.base - base), 2), "bpm": None, "seconds": render.SECONDS,
                   "phrases": phrases_of(written), "events": written}
    raise RuntimeError("no performance without overbends and altered layouts")


def rested(seed, bank, styles):
    """Half a minute, in some thirds of which a player plays the same: its samples and truth."""
    plays = np.random.default_rng([*seed, 5]).choice([(0, 0, 0), (0, 0, 0), (1, 0, 0), (0, 1, 1), (0, 0, 1), (1, 0, 1), (0, 1, 0)])
    x, truth = performance(seed, bank, styles)
    third = len(x) / RATE
    written = [dict(e, start=round(e["start"] + k * third, 4), end=round(e["end"] + k * third, 4))
               for k in range(3) if plays[k] for e in truth["events"]]
    return np.concatenate([x * p for p in plays]), dict(truth, seconds=3 * third, events=written, phrases=phrases_of(written))


def accompaniment(seed, bank, truth, samples):
    """A band of that many samples in the key of the song; if the truth tells no position, mostly second."""
    rng = np.random.default_rng(seed)
    base = KEYS.index(truth["harp"].split()[-1])
    want = rng.choice([7, 7, 7, 0, 0, 2])
    if truth.get("position"):
        want = 7 * (truth["position"] - 1) % 12
    out = np.zeros(0, np.float32)
    while len(out) < samples:
        song = bands.Song(np.random.default_rng(rng.integers(1 << 40)), bank)
        if song.tonic == (base + want) % 12:
            out = np.concatenate([out, song.play()])
    return out[:samples]


def excerpts(seed, codes, samples):
    """A recorded band of that many samples: excerpts (codes [n][m]) one after another, in an order of their own."""
    order = np.random.default_rng(seed).permutation(len(codes))
    count = -(-samples // codes.shape[1])
    return recorded.table()[codes[np.resize(order, count)]].reshape(-1)[:samples]


def alone(codes):
    """Recorded sound in which no harp plays, two excerpts after one another: (name, samples, truth) for harps by turns."""
    for i in range(0, len(codes), 2):
        x = recorded.table()[codes[i:i + 2]].reshape(-1)
        yield str(i // 2 + 1), x, {"harp": KEYS[5 * i // 2 % 12], "layout": "richter", "offset": 0.0, "bpm": None,
                                   "seconds": len(x) / RATE, "phrases": [], "events": []}


def active(truth, samples):
    """1 for each frame in which something is played."""
    on = np.zeros(samples // render.HOP, np.float32)
    for e in truth["events"]:
        on[int(e["start"] * RATE / render.HOP):int(e["end"] * RATE / render.HOP) + 1] = 1
    return on


def read(folder, sound):
    """The clips of a folder, whose sound lies in another one or, if that is None, there: (name, samples, truth)."""
    for path in sorted(glob.glob(os.path.join(folder, "*.truth.json"))):
        with open(path) as f:
            truth = json.load(f)
        yield os.path.basename(path)[:-len(".truth.json")], samples_of(os.path.join(sound or folder, truth["audio"])), truth


def samples_of(path):
    """A WAV file as mono float32 at RATE; ffmpeg reads those of another form than clips have."""
    with wave.open(path) as f:
        if (f.getnchannels(), f.getframerate(), f.getsampwidth()) == (1, RATE, 2):
            return np.frombuffer(f.readframes(f.getnframes()), "<i2").astype(np.float32) / 32768
    return recorded.decode(path)


def write(folder, name, x, truth):
    x = np.round(np.clip(x, -1, 1) * 32767).astype("<i2")
    with wave.open(os.path.join(folder, name + ".wav"), "wb") as f:
        f.setparams((1, 2, RATE, len(x), "NONE", ""))
        f.writeframes(x.tobytes())
    with open(os.path.join(folder, name + ".truth.json"), "w") as f:
        json.dump(dict(truth, audio=name + ".wav"), f, indent=1)
        f.write("\n")


def main():
    parser = argparse.ArgumentParser()
    here = os.path.dirname(os.path.abspath(__file__))
    parser.add_argument("out")
    parser.add_argument("--bank", default=os.path.join(here, "bank.bin"))
    parser.add_argument("--seed", type=int, default=1000000007)
    parser.add_argument("--count", type=int, default=24, help="clips a tier")
    parser.add_argument("--under", help="put bands under the clips of this folder")
    parser.add_argument("--sound", help="the folder that the sound of these clips lies in")
    parser.add_argument("--alone", action="store_true", help="recorded excerpts without a harp")
    parser.add_argument("--people", action="store_true", help="performances as people play")
    parser.add_argument("--paired", action="store_true", help="the same with many double stops")
    parser.add_argument("--recorded", help="recorded excerpts as bands")
    parser.add_argument("--rests", action="store_true", help="clips of 30 s with bands, whose player rests")
    a = parser.parse_args()
    if a.alone and not a.recorded:
        parser.error("--alone wants --recorded")
    os.makedirs(a.out, exist_ok=True)
    torch.set_num_threads(1)
    styles = people.PAIRED if a.paired else people.STYLES if a.people else None
    bank = render.Bank(*banks.load(a.bank))
    codes = recorded.load(a.recorded)[1] if a.recorded else None
    if a.alone:
        return write_alone(effects.Studio("cpu", a.seed), list(alone(codes)), a.out)
    for number, (tier, settings) in enumerate(TIERS.items()):
        if (a.under or a.rests) and not settings["band"]:
            continue
        studio = effects.Studio("cpu", a.seed + number)
        settings = dict(settings, wah=0, amp=0, room=0, record=0) if a.under else settings
        settings = dict(settings, phone=0.3) if a.rests else settings
        made = read(a.under, a.sound) if a.under else (
            (str(i + 1), *(rested if a.rests else performance)([a.seed, number, i], bank, styles)) for i in range(a.count))
        group = []
        for i, (name, x, truth) in enumerate(made):
            if group and len(x) != len(group[0][1]):
                finish(studio, group, dict(settings), tier, a.out)
                group = []
            band = np.zeros(len(x) + RATE, np.float32)
            if settings["band"]:
                seed, samples = [a.seed, number, i, 1], len(x) + RATE
                band = accompaniment(seed, bank, truth, samples) if codes is None else excerpts(seed, codes, samples)
            group.append((f"{tier}-{name}", x, band, truth))
            if len(group) == 8:
                finish(studio, group, dict(settings), tier, a.out)
                group = []
        if group:
            finish(studio, group, dict(settings), tier, a.out)


def write_alone(studio, clips, out):
    """Write clips of recorded sound, the first half of each eight by telephone."""
    for at in range(0, len(clips), 8):
        names, xs, truths = zip(*clips[at:at + 8])
        if len(set(map(len, xs))) > 1:  # the last may be one excerpt
            write_alone(studio, clips[at:-1], out)
            return write_alone(studio, clips[-1:], out)
        harps, band = torch.zeros((len(xs), len(xs[0]))), torch.from_numpy(np.stack([np.pad(x, (0, RATE)) for x in xs]))
        y = studio.produce(harps, band, torch.ones((len(xs), 1)), torch.zeros((len(xs), len(xs[0]) // render.HOP)),
                           effects.NONE["recorded, no harp"], none=len(xs))
        for name, x, truth in zip(names, y.numpy(), truths):
            write(out, name, x, dict(truth, tier="none"))


def finish(studio, group, settings, tier, out):
    """Put the tier's effects on some clips of one length and write them."""
    names, xs, under, truths = zip(*group)
    stack = lambda arrays: torch.from_numpy(np.stack(arrays))
    n = len(xs[0])
    y = studio.produce(stack(xs), stack(under), torch.ones((len(xs), 1)), stack([active(t, n) for t in truths]), settings)
    for name, x, truth in zip(names, y.numpy(), truths):
        write(out, name, x, dict(truth, tier=tier))


if __name__ == "__main__":
    main()
