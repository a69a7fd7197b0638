"""Write what the program's test compares itself with: a short sound, and what the
exported ear makes of it. To be run again whenever the weights change, in this folder:

    /usr/bin/python3 fixture.py

fixture.wav   1.5 s, 22,050 Hz, 16 bits: a made-up reed, two notes then both
fixture.json  sha256 of the weights file, base in Hz, layout features [5][40], frames T,
              step, and for each array of fixture.bin its name, shape and offset in bytes
fixture.bin   little-endian float32: features [16][120][ceil(T/step)] (every step-th
              frame), row [40][T][2] and whole [T][8] logits of all frames, computed
              in float32 from the file's 16-bit weights
"""
import argparse
import hashlib
import json
import os
import wave

import numpy as np
import torch

import export
import features
import harp as hp

RATE, HOP = 22050, 256


def sound(base):
    """Hole 2 draw, hole 3 draw, then both, of additive reeds; int16."""
    rng = np.random.default_rng(11)
    n = int(1.5 * RATE)
    t = np.arange(n) / RATE
    x = np.zeros(n)
    for start, end, semitone, level in ((0.1, 0.5, 7, 1.0), (0.5, 0.85, 11, 0.9), (0.95, 1.4, 7, 1.0), (0.95, 1.4, 11, 0.4)):
        envelope = np.clip((t - start) / 0.02, 0, 1) * np.clip((end - t) / 0.04, 0, 1)
        for k in range(1, 16):
            x += level * envelope * k ** -0.8 * np.sin(2 * np.pi * base * 2 ** (semitone / 12) * k * t + rng.uniform(0, 6.28))
    x = x / np.abs(x).max() * 0.5 + rng.normal(0, 1e-3, n)
    return np.round(x * 32767).astype(np.int16)


def main():
    parser = argparse.ArgumentParser()
    here = os.path.dirname(os.path.abspath(__file__))
    parser.add_argument("--ear", default=os.path.join(here, "..", "weights.bin"))
    parser.add_argument("--out", default=os.path.join(here, "..", "testdata"))
    parser.add_argument("--step", type=int, default=7, help="odd, so that even and odd frames are kept")
    a = parser.parse_args()
    os.makedirs(a.out, exist_ok=True)
    base = 220.0 * 2 ** (3.07 / 12)
    samples = sound(base)
    frames = (len(samples) // HOP + 1) // 2 * 2
    layout = hp.features(np.array(hp.LAYOUTS["richter"]))
    x = torch.from_numpy(samples.astype(np.float32) / 32768)[None]
    v = features.features(x, torch.tensor([base], dtype=torch.float64), frames)
    config, weights = export.read(a.ear)
    with open(a.ear, "rb") as f:
        digest = hashlib.sha256(f.read()).hexdigest()
    with torch.no_grad():
        row, whole = export.run(config, weights, v, torch.from_numpy(layout)[None])
    arrays, data = [], b""
    for name, value in (("features", v[0, :, :, ::a.step]), ("row", row[0]), ("whole", whole[0])):
        value = value.contiguous().numpy().astype("<f4")
        arrays.append({"name": name, "shape": list(value.shape), "offset": len(data)})
        data += value.tobytes()
    with wave.open(os.path.join(a.out, "fixture.wav"), "wb") as f:
        f.setparams((1, 2, RATE, len(samples), "NONE", ""))
        f.writeframes(samples.astype("<i2").tobytes())
    with open(os.path.join(a.out, "fixture.json"), "w") as f:
        json.dump({"weights_sha256": digest, "base_hz": base, "frames": frames, "step": a.step, "config": config,
                   "layout": layout.astype(int).tolist(), "arrays": arrays}, f)
        f.write("\n")
    with open(os.path.join(a.out, "fixture.bin"), "wb") as f:
        f.write(data)
    size = sum(os.path.getsize(os.path.join(a.out, "fixture." + e)) for e in ("wav", "json", "bin"))
    sounding = torch.sigmoid(row[0, :, :, 0])
    print(f"{frames} frames, {size / 1024:.0f} KiB; mean of sounding, rows 8 and 12: "
          f"{sounding[8].mean():.3f} {sounding[12].mean():.3f}, others {sounding.mean():.3f}")


if __name__ == "__main__":
    main()
