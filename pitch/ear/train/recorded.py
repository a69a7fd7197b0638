"""Recorded sound without any harp: excerpts of 12 s in 8-bit mu-law.

    python3 recorded.py --list files.tsv --out pool-train

The list has a line for each piece: kind (guitar, song, game, loop, speech), excerpts
to take, licence, source (a Debian package), path; ffmpeg reads the files. Pieces
are taken at even distances; loops and speech, which are short, are joined until
they fill an excerpt.

NAME.json  index: for each excerpt kind, licence, source, piece and second in it
NAME.ul    LZMA of the codes [n][samples], each as the difference from the one
           before (see `pack`): some 4.7 bits a sample

Codes rise with the sample: code c of 0..255 stands for sign(y) ((256^|y|) - 1) / 255,
y = (c - 127.5) / 127.5 (ITU-T G.711's curve with mu = 255, in its continuous form).
"""
import argparse
import json
import lzma
import os
import subprocess

import numpy as np

RATE = 22050
SAMPLES = 12 * RATE  # of an excerpt, as long as a band
QUIET = 10 ** (-45 / 20)  # root mean square under which an excerpt is left out


def table():
    """Samples of the 256 codes, float32."""
    y = (np.arange(256) - 127.5) / 127.5
    return (np.sign(y) * (256 ** np.abs(y) - 1) / 255).astype(np.float32)


def encode(x):
    """Samples in -1..1 to codes, uint8."""
    y = np.sign(x) * np.log1p(255 * np.minimum(np.abs(x), 1)) / np.log(256)
    return np.clip(np.round(y * 127.5 + 127.5), 0, 255).astype(np.uint8)


def pack(codes):
    """Codes [n][m] to bytes: differences modulo 256 from the code that was there, by excerpt."""
    filters = [{"id": lzma.FILTER_LZMA2, "preset": 1, "lc": 4, "lp": 0, "pb": 0}]
    return lzma.compress(np.diff(codes, axis=1, prepend=np.uint8(128)).tobytes(), filters=filters)


def unpack(data, n):
    """The codes [n][m] again; sums of bytes wrap round exactly as the differences did."""
    steps = np.frombuffer(lzma.decompress(data), np.uint8).reshape(n, -1)
    return np.cumsum(steps, axis=1, dtype=np.uint8) + np.uint8(128)


def decode(path, start=0.0, seconds=None):
    """A sound file, or some seconds of it, as mono float32 at RATE, by ffmpeg."""
    part = ["-ss", str(start)] + (["-t", str(seconds)] if seconds else [])
    run = subprocess.run(["ffmpeg", "-v", "error", *part, "-i", path, "-ac", "1", "-ar", str(RATE), "-f", "f32le", "-"],
                         stdout=subprocess.PIPE, check=True)
    return np.frombuffer(run.stdout, np.float32).copy()


def length(path):
    """Seconds of a sound file, by ffprobe."""
    run = subprocess.run(["ffprobe", "-v", "error", "-show_entries", "format=duration", "-of", "csv=p=0", path],
                         stdout=subprocess.PIPE, check=True, text=True)
    return float(run.stdout)


def excerpts(path, count):
    """Up to `count` excerpts of a piece, (second, samples) each, at even distances, none of them silent."""
    whole, seconds = length(path), SAMPLES / RATE
    count = min(count, int((whole - 1) // seconds))
    for k in range(count):
        start = (whole - 1 - seconds) * (k + 0.5) / count if count * seconds < 0.9 * whole else seconds * k
        x = decode(path, start, seconds + 0.1)[:SAMPLES]
        if len(x) == SAMPLES and np.sqrt(np.mean(x ** 2)) > QUIET:
            yield round(start, 2), x


def join(paths, seed):
    """Short pieces one after another, those under 4 s up to four times, with gaps of up to 0.3 s: excerpts of them."""
    rng, parts, total = np.random.default_rng(seed), [], 0
    for path in paths:
        x = decode(path)
        if len(x) < RATE // 10:
            continue
        x = x / (np.abs(x).max() + 1e-9) * 10 ** (rng.uniform(-8, 0) / 20)
        for _ in range(int(rng.integers(1, 5)) if len(x) < 4 * RATE else 1):
            parts += [x[:SAMPLES], np.zeros(int(rng.uniform(0, 0.3) * RATE), np.float32)]
            total += len(parts[-2]) + len(parts[-1])
        if total >= SAMPLES:
            yield 0.0, np.concatenate(parts)[:SAMPLES]
            parts, total = [], 0


def pieces(lines):
    """(kind, licence, source, piece, second, samples) of every excerpt on the list."""
    short = {}
    for kind, count, licence, source, path in lines:
        if kind in ("loop", "speech"):
            short.setdefault((kind, licence, source), []).append(path)
            continue
        for start, x in excerpts(path, int(count)):
            yield kind, licence, source, os.path.basename(path), start, x
    for (kind, licence, source), paths in short.items():
        for start, x in join(paths, len(paths)):
            yield kind, licence, source, f"{len(paths)} short pieces", start, x


def build(listed, out):
    with open(listed) as f:
        lines = [line.rstrip("\n").split("\t") for line in f if line.strip()]
    index, codes = [], []
    for kind, licence, source, piece, start, x in pieces(lines):
        index.append({"kind": kind, "licence": licence, "source": source, "piece": piece, "second": start})
        codes.append(encode(x / np.abs(x).max() * 0.9))
    with open(out + ".json.part", "w") as f:
        json.dump(index, f, indent=0)
    with open(out + ".ul.part", "wb") as f:
        f.write(pack(np.stack(codes)))
    for end in (".json", ".ul"):
        os.replace(out + end + ".part", out + end)
    print(f"{len(index)} excerpts, {len(index) * SAMPLES / RATE / 60:.1f} minutes, "
          f"{os.path.getsize(out + '.ul') / 2**20:.1f} MiB")


def load(path):
    """An index and its codes uint8 [n][SAMPLES]."""
    with open(path + ".json") as f:
        index = json.load(f)
    with open(path + ".ul", "rb") as f:
        return index, unpack(f.read(), len(index))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--list", required=True)
    parser.add_argument("--out", required=True)
    a = parser.parse_args()
    build(a.list, a.out)
