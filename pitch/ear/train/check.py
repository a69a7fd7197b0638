"""Check the renderer, the features and the export by numbers.

    /usr/bin/python3 check.py --bank bank.bin [--plot picture.png]

Pitch: single voices rendered by themselves must be heard, by the harmonic comb
of bank.measure_pitch, within 8 cents of the contour's median. Time: the energy
of a solo note must rise after its labelled start and be down 15 dB after its
labelled end. Features: a full-scale sine's band power is 1 (0 dB) by Parseval's
theorem and the window's definition, and a naive sum agrees. Layouts: the bends
of the common layout are those of common practice. Export: the file computes
what the network computes.
"""
import argparse
import os
import tempfile

import numpy as np
import torch

import bank as banks
import export
import features
import harp as hp
import model as models
import phrases
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
    loaded = render.Bank(*banks.load(options.bank))
    if options.plot:
        plot(loaded, options.plot, [int(s) for s in options.seeds.split(",")])
    check_pitch(loaded)
    check_time(loaded)
