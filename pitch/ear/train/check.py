"""Check the renderer, the features and the export by numbers.

    /usr/bin/python3 check.py --bank bank.bin [--plot picture.png]

Pitch: single voices rendered by themselves must be heard, by the harmonic comb
of bank.measure_pitch, within 8 cents of the contour's median. Time: the energy
of a solo note must rise after its labelled start and be down 15 dB after its
labelled end. Features: a full-scale sine's band power is 1 (0 dB) by Parseval's
theorem and the window's definition, and a naive sum agrees. Starts: as people
play, a reed's label begins where its sound has risen to 10 dB under its level
(perceptual attack time: Vos & Rasch 1981, Gordon 1987), and no reed comes in
more than 80 ms after the event that it belongs to. Effects: no harp and no
labels where digital silence is put. Layouts: the bends
of the common layout are those of common practice. Export: the file computes
what the network computes.
"""
import argparse
import os
import tempfile

import numpy as np
import torch

import bank as banks
import effects
import export
import features
import harp as hp
import model as models
import people
import phrases
import recorded
import render


def check_bends():
    states = hp.states(np.array(hp.LAYOUTS["richter"]))
    draw = [max([s.bend for s in states if s.hole == h and s.breath == 1]) for h in range(10)]
    blow = [max([s.bend for s in states if s.hole == h and s.breath == 0]) for h in range(10)]
    assert draw == [1, 2, 3, 1, 0, 1, 0, 0, 0, 0], draw
    assert blow == [0, 0, 0, 0, 0, 0, 0, 1, 1, 2], blow
    overblown = {s.hole + 1: s.semitone for s in states if s.bend == -1}
    assert overblown[6] == 22 and overblown[1] == 3 and overblown[7] == 25 and overblown[10] == 37, overblown
    print("bends of the common layout: as in common practice")


def check_pitch(bank, count=60):
    errors, octave = [], []
    for i in range(count):
        rng = np.random.default_rng([5, i])
        p = phrases.perform(rng, 10.0)
        timbre = render.Timbre(rng, bank, False)
        for voice in p.voices:
            if voice.end - voice.start < 0.5 or not voice.segments or len(voice.times) > 2 or voice.mod["vibrato"]:
                continue
            voice.fundamental = 0.0
            x = render.render_voice(rng, voice, timbre, p.harp.base)
            pitch = p.harp.base + voice.pitches[-1]
            row = p.harp.base + voice.segments[0][2] - 1
            assert abs(pitch - row) < 0.55, (pitch, row)
            hz = 440 * 2 ** ((pitch - 69) / 12)
            if hz > 3500:
                continue
            heard = banks.measure_pitch(x[2000:-2000], hz)
            spectrum = np.abs(np.fft.rfft((x * np.hanning(len(x)))[2000:-2000], 1 << 18))
            at = lambda f: spectrum[int((f - 6) / render.RATE * 2 ** 18):int((f + 6) / render.RATE * 2 ** 18)].max()
            octave.append(max(at(0.5 * hz), at(1.5 * hz)) / max(at(hz), at(2 * hz), at(3 * hz)))
            errors.append(abs(1200 * np.log2(heard / hz)))
            break
    errors = np.array(errors)
    print(f"pitch of {len(errors)} voices: median error {np.median(errors):.1f} cents, 90 % within "
          f"{np.quantile(errors, 0.9):.1f}, worst {errors.max():.1f}")
    print(f"between the harmonics: {20 * np.log10(np.quantile(octave, 0.95)):.0f} dB (95 %) below them, so no octave is wrong")
    assert np.quantile(errors, 0.9) < 8 and np.quantile(octave, 0.95) < 0.1


def check_time(bank, count=40):
    """Each labelled note alone against its own samples."""
    before, after = [], []
    for i in range(count):
        rng = np.random.default_rng([6, i])
        p = phrases.perform(rng, 10.0)
        timbre = render.Timbre(rng, bank, False)
        timbre.noise = -90
        for voice in p.voices[:6]:
            if not voice.segments or voice.end - voice.start < 0.15 or voice.mod["body"][1] > 8:
                continue
            x = render.render_voice(rng, voice, timbre, p.harp.base)
            first = int((voice.end - voice.start) * render.RATE)
            loud = np.sqrt(np.mean(x[first // 4:3 * first // 4] ** 2))
            at_end = np.sqrt(np.mean(x[max(0, first - 64):first + 64] ** 2))
            risen = np.argmax(np.abs(x) > 0.3 * loud) / render.RATE
            before.append(risen)
            after.append(20 * np.log10(at_end / loud + 1e-9))
    print(f"{len(before)} notes: sound 10 dB down reached {1000 * np.median(before):.1f} ms after the label (95 %: "
          f"{1000 * np.quantile(before, 0.95):.0f} ms); level at the labelled end {np.median(after):.1f} dB (95 %: {np.quantile(after, 0.95):.1f})")
    assert np.quantile(before, 0.95) < 0.15 and np.quantile(after, 0.9) < -10


def check_heard(bank, count=120):
    """Each reed of people's performances by itself: how its level stands where its label begins and ends."""
    late, slow, ends = [], [], []
    for i in range(count):
        rng = np.random.default_rng([7, i])
        p = phrases.as_heard(people.perform(rng, 10.0))
        timbre = render.Timbre(rng, bank, False)
        timbre.noise, timbre.shimmer = -90, 0
        for voice in p.voices[:12]:
            short, grows = voice.end - voice.start < 0.12, voice.mod["body"][0] == "grow"
            if not voice.segments or voice.steady or voice.hollow or short or grows:
                continue
            x = render.render_voice(rng, voice, timbre, p.harp.base)
            wide = max(220, int(2 * render.RATE / (440 * 2 ** ((p.harp.base + min(voice.pitches) - 69) / 12))))
            level = np.sqrt(np.convolve(x ** 2, np.ones(wide) / wide, "same"))
            note = level[:int((voice.rise + 0.25) * render.RATE)].max()
            risen = np.argmax(level > note * 10 ** (-10 / 20)) / render.RATE
            label = voice.segments[0][0] - voice.start
            (slow if voice.rise > 0.1 else late).append(label - risen)
            last = int((voice.segments[-1][1] - voice.start) * render.RATE)
            if len(voice.segments) == 1 and abs(voice.segments[0][1] - voice.end) < 1e-9:
                ends.append(20 * np.log10(level[min(last, len(level) - 1)] / note + 1e-9))
    for name, errors, most in (("quick", late, 0.02), ("soft", slow, 0.06)):
        errors = 1000 * np.array(errors)
        print(f"{len(errors)} {name} starts: label after the level has risen to 10 dB under: median {np.median(errors):.1f} ms, "
              f"5 % {np.quantile(errors, 0.05):.1f}, 95 % {np.quantile(errors, 0.95):.1f}")
        assert np.quantile(np.abs(errors), 0.9) < 1000 * most
    print(f"level at {len(ends)} labelled ends: {np.median(ends):.1f} dB (95 %: {np.quantile(ends, 0.95):.1f})")
    assert np.quantile(ends, 0.9) < -9


def check_events(count=200):
    """A reed's start lies within 80 ms after an event's start; events of one reed have their own attack."""
    late, starts, apart = 0, 0, 0
    for i in range(count):
        rows, whole = render.label(phrases.as_heard(people.perform(np.random.default_rng([8, i]), 10.0)))
        events = np.nonzero(whole[:, 2])[0]
        most = int(np.ceil(people.CLEAR * render.RATE / render.HOP)) + 1
        for t in np.nonzero((rows & 2).any(1))[0]:
            before = t - events[events <= t + 1]
            starts += 1
            late += not len(before) or before.min() > most
        apart += sum(1 for t in events if not (rows[max(0, t - 1):t + 2] & 2).any() and t > 0)
        assert ((rows & 1).sum(1).clip(max=3) == whole[:, 1]).all()
        assert not (whole[whole[:, 1] == 0, 0]).any()
    print(f"{starts} moments at which reeds begin: {late} more than 80 ms after their event; {apart} events without any")
    assert late < 0.01 * starts and apart < 0.02 * starts


def check_people(count=80):
    """The same seed gives the same performance; how often the habits show."""
    one = [people.perform(np.random.default_rng([9, i]), 10.0) for i in range(count)]
    two = people.perform(np.random.default_rng([9, 3]), 10.0)
    assert [vars(v) for v in one[3].voices] == [vars(v) for v in two.voices]
    voices = [v for p in one for v in p.voices]
    lengths = [e.end - e.start for p in one for e in p.events]
    share = lambda test: f"{sum(map(test, voices)) / len(voices):.3f}"
    print(f"{len(voices)} reeds in {count} performances: soft {share(lambda v: v.rise > 0.1)}, no label {share(lambda v: not v.segments)}, "
          f"hollow {share(lambda v: v.hollow < 0)}, dips {share(lambda v: bool(v.dips))}; "
          f"events {len(lengths) / count:.0f} each, {np.mean(np.array(lengths) < 0.1):.2f} shorter than 0.1 s")


def check_effects():
    """Silence takes the labels with it; what sounds at its end begins there; all effects keep length and numbers."""
    studio = effects.Studio("cpu", 5)
    b, frames = 16, 400
    t = torch.arange(frames * render.HOP) / render.RATE
    harp = (0.2 * torch.sin(2 * np.pi * 440 * t) + 0.2 * torch.sin(2 * np.pi * 660 * t)).repeat(b, 1)
    rows, whole = torch.zeros((b, frames, 40), dtype=torch.uint8), torch.zeros((b, frames, 3), dtype=torch.uint8)
    rows[:, 20:, 5], whole[:, 20:, 0] = 1, 1
    rows[:, 20, 5], whole[:, 20, 2] = 3, 1
    x, r, w = studio.silence(harp + 1e-3, rows, whole, chance=1.0)
    for k in range(b):
        there = torch.nonzero(x[k])[:, 0]
        first = int(there[0]) // render.HOP
        assert not r[k, :first].any() and not w[k, :first].any()
        if first > 20:
            assert r[k, first, 5] == 3 and w[k, first, 2] == 1, first
    for name in ("hands", "mixing", "echo", "gate", "lows", "phone", "clicks"):
        y = getattr(studio, name)(harp)
        assert y.shape == harp.shape and torch.isfinite(y).all(), name
    y = studio.mixing(harp)[0]
    power = (torch.fft.rfft(y * torch.hann_window(len(y))).abs() ** 2).numpy()
    at = lambda f: 10 * np.log10(power[int((f - 8) * len(y) / render.RATE):int((f + 8) * len(y) / render.RATE)].max())
    print(f"tones of 440 and 660 Hz mixed: difference {at(220) - at(440):.1f} dB, sum {at(1100) - at(440):.1f} dB")
    assert at(220) - at(440) > -30 and at(1100) - at(440) > -30


def check_recorded():
    """Codes are the nearest ones, in both directions, and come back from their packing."""
    table = recorded.table()
    assert (recorded.encode(table) == np.arange(256)).all() and (np.diff(table) > 0).all()
    codes = np.random.default_rng(3).integers(0, 256, (3, 999)).astype(np.uint8)
    assert (recorded.unpack(recorded.pack(codes), 3) == codes).all()
    print("mu-law codes: come back as they were")


def check_features():
    base = torch.tensor([261.6])
    row, h = 13, 1
    f = float(base) * 2 ** ((row - 1) / 12)
    t = torch.arange(16384) / 22050
    x = torch.sin(2 * np.pi * f * t)[None]
    v = features.features(x, base, 64)
    assert v.shape == (1, 16, 120, 64)
    # total power of a windowed sine over |X|^2 sums to 1.5 bins' worth of the peak
    p = features.powers(x, 4096, 64)[0, 32]
    k = round(f / 22050 * 4096)
    assert abs(float(p[k - 3:k + 4].sum()) - 1.5) < 0.01, float(p[k - 3:k + 4].sum())
    c = (np.cumsum(np.concatenate([[0.0], p.double().numpy()])))
    cum = lambda q: np.interp(q / 22050 * 4096 + 0.5, np.arange(len(c)), c)
    worst = 0
    for channel, hh in enumerate(features.HARMONICS):
        for bin in range(120):
            g = float(base) * 2 ** ((bin // 3 - 1) / 12 + (bin % 3 - 1) / 36) * hh
            d = max(g * (2 ** (1 / 72) - 1), 0.5 * 22050 / 4096)
            want = cum(g + d) - cum(g - d) if g + d <= 11025 else 0.0
            want = (np.log10(want + 1e-9) + 9) / 4
            worst = max(worst, abs(want - float(v[0, channel, bin, 32])))
    print(f"features: largest difference from cumulative sums {worst:.2e}")
    assert worst < 1e-3


def check_export():
    torch.manual_seed(3)
    for stride in (1, 2):
        net = models.Ear(8, stride)
        x, layout = torch.rand(6, 16, 120, 64), (torch.rand(6, 5, 40) > 0.5).float()
        torch.nn.init.normal_(net.g3.weight, std=0.1)
        torch.nn.init.normal_(net.embed, std=0.5)
        for _ in range(4):
            net(x, layout)
        net.eval()
        with tempfile.TemporaryDirectory() as folder, torch.no_grad():
            path = os.path.join(folder, "w.bin")
            export.write(net, path)
            row, whole = net(x, layout)
            row2, whole2 = export.run(*export.read(path), x, layout)
        worst = max(float((row - row2).abs().max()), float((whole - whole2).abs().max()))
        print(f"export, stride {stride}: largest difference {worst:.4f}, logits to {float(row.abs().max()):.1f}")
        assert worst < 0.05


def plot(bank, path, seeds):
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    figure, axes = plt.subplots(len(seeds), 1, figsize=(20, 6 * len(seeds)))
    for axis, seed in zip(np.atleast_1d(axes), seeds):
        x, rows, whole, base, _ = render.make([8, seed], bank)
        v = features.features(torch.from_numpy(x.astype(np.float32) / 32768)[None], torch.tensor([440 * 2 ** ((base - 69) / 12)]), render.FRAMES - 1)
        axis.imshow(v[0, 1].numpy(), origin="lower", aspect="auto", cmap="magma", extent=(0, render.FRAMES - 1, -0.5 - 1 / 3 + 1 / 3, 39.5))
        t, r = np.nonzero(rows & 1)
        axis.plot(t, r, "c.", ms=2)
        t, r = np.nonzero(rows & 2)
        axis.plot(t, r, "w|", ms=9)
    figure.tight_layout()
    figure.savefig(path, dpi=50)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--bank", default="bank.bin")
    parser.add_argument("--plot")
    parser.add_argument("--seeds", default="0,1,2,3")
    options = parser.parse_args()
    check_bends()
    check_features()
    check_export()
    check_recorded()
    check_effects()
    check_people()
    check_events()
    loaded = render.Bank(*banks.load(options.bank))
    if options.plot:
        plot(loaded, options.plot, [int(s) for s in options.seeds.split(",")])
    check_pitch(loaded)
    check_time(loaded)
    check_heard(loaded)
