"""Build the note bank: short recordings of single notes from two sound banks.

Both banks, FluidR3 GM and MuseScore General, are under the MIT licence. They come with
the Debian packages fluid-soundfont-gm and musescore-general-soundfont; the
program fluidsynth plays them, reverb and chorus off.

    /usr/bin/python3 bank.py --out bank.bin
    /usr/bin/python3 bank.py --reeds reeds.tsv --out bank.bin

Recorded reeds may join them: a list has a line for each, the MIDI number and the path
of a sound file (ffmpeg reads it) of one note of at least 1.2 s that begins at once.

Each note is mono, 22,050 Hz, 13 significant bits, normalised to its own peak.
Notes of reeds carry their measured pitch, the place where their sound begins
and a loop whose ends are crossfaded, so that they can be held for any time.

File: one line of JSON (notes: font, kind, program, key, velocity, offset and
count of samples, pitch in Hz, loop and onset in samples) ended by a newline,
then the LZMA-compressed second differences of the samples as two planes of
bytes, high then low. `load` reads it back.
"""
import argparse
import json
import lzma
import os
import struct
import subprocess
import tempfile
import wave

import numpy as np

RATE = 22050
FONTS = ["/usr/share/sounds/sf2/FluidR3_GM.sf2", "/usr/share/sounds/sf3/MuseScore_General.sf3"]

# kind, General MIDI program from 0, keys, velocities, seconds
REEDS = [
    ("reed", 22, range(36, 104, 2), (110,), 2.2),
    ("reed", 22, range(37, 104, 5), (60,), 2.2),
    ("reed", 20, range(38, 99, 7), (100,), 2.0),
    ("reed", 21, range(38, 99, 7), (100,), 2.0),
    ("reed", 23, range(38, 99, 7), (100,), 2.0),
]
BAND = [
    ("piano", 0, range(29, 90, 5), (70, 115), 1.7),
    ("piano", 4, range(36, 90, 6), (95,), 1.7),
    ("organ", 16, range(36, 92, 6), (100,), 1.3),
    ("organ", 18, range(36, 92, 6), (100,), 1.3),
    ("guitar", 25, range(40, 84, 5), (70, 110), 1.6),
    ("guitar", 26, range(40, 84, 5), (100,), 1.6),
    ("guitar", 27, range(40, 84, 5), (100,), 1.6),
    ("guitar", 29, range(40, 88, 5), (100,), 1.6),
    ("bass", 32, range(28, 60, 4), (100,), 1.2),
    ("bass", 33, range(28, 60, 4), (100,), 1.2),
    ("sax", 65, range(54, 86, 4), (100,), 1.6),
    ("sax", 66, range(46, 80, 4), (100,), 1.6),
    ("trumpet", 59, range(54, 86, 4), (100,), 1.6),
    ("trumpet", 56, range(54, 86, 5), (100,), 1.4),
    ("strings", 48, range(43, 92, 6), (90,), 1.8),
    ("strings", 40, range(55, 96, 6), (100,), 1.6),
    ("voice", 52, range(46, 84, 4), (100,), 1.8),
    ("voice", 53, range(46, 84, 5), (100,), 1.8),
    ("voice", 54, range(46, 84, 5), (100,), 1.8),
    ("voice", 85, range(50, 88, 5), (100,), 1.6),
    ("flute", 73, range(60, 92, 6), (100,), 1.4),
]
# General MIDI percussion keys
DRUM_KEYS = {"kick": 36, "snare": 38, "rim": 37, "hat": 42, "openhat": 46, "ride": 51,
             "crash": 49, "tomlow": 43, "tomhigh": 48, "clap": 39}
DRUM_SECONDS = {"kick": 0.35, "snare": 0.4, "rim": 0.2, "hat": 0.2, "openhat": 0.6, "ride": 0.9,
                "crash": 1.2, "tomlow": 0.5, "tomhigh": 0.5, "clap": 0.3}
KITS = [0, 8, 16, 25, 32, 40]


def wanted():
    """List every note to be made: kind, program, key, velocity, seconds."""
    notes = []
    for kind, program, keys, velocities, seconds in REEDS + BAND:
        for velocity in velocities:
            notes += [(kind, program, key, velocity, seconds) for key in keys]
    for kit in KITS:
        for name, key in DRUM_KEYS.items():
            notes.append((name, 1000 + kit, key, 105, DRUM_SECONDS[name]))
    return notes


def variable_length(n):
    out = [n & 127]
    while n > 127:
        n >>= 7
        out.append(128 | (n & 127))
    return bytes(reversed(out))


def write_midi(path, notes, gap):
    """Write the notes one after another, 1000 ticks a second, gap seconds apart."""
    events, t = [], 0.25
    starts = []
    for kind, program, key, velocity, seconds in notes:
        channel, number = (9, program - 1000) if program >= 1000 else (0, program)
        starts.append(t)
        events.append((t - 0.1, bytes([0xC0 | channel, number])))
        events.append((t, bytes([0x90 | channel, key, velocity])))
        events.append((t + seconds, bytes([0x80 | channel, key, 0])))
        t += seconds + gap
    track, last = b"\x00\xff\x51\x03" + (1000000).to_bytes(3, "big"), 0
    for when, message in sorted(events, key=lambda e: e[0]):
        tick = round(when * 1000)
        track += variable_length(tick - last) + message
        last = tick
    track += b"\x00\xff\x2f\x00"
    with open(path, "wb") as f:
        f.write(b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(track)) + track)
    return starts, t


def play(font, notes, gap=1.0):
    """Play the notes with fluidsynth; return their samples at RATE, one array each."""
    from scipy.io import wavfile
    from scipy.signal import resample_poly
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = os.path.join(folder, "n.mid"), os.path.join(folder, "n.wav")
        starts, _ = write_midi(midi, notes, gap)
        subprocess.run(["fluidsynth", "-ni", "-q", "-g", "0.5", "-R", "0", "-C", "0", "-r", "44100",
                        "-o", "synth.dynamic-sample-loading=1", "-o", "synth.polyphony=64",
                        "-O", "float", "-T", "wav", "-F", wav, font, midi], check=True,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        rate, x = wavfile.read(wav)
    out = []
    for start, note in zip(starts, notes):
        first = int(start * rate)
        piece = x[first:first + int(note[4] * rate)].mean(axis=1).astype(np.float64)
        out.append(resample_poly(piece, 1, 2))
    return out


def recorded(path):
    """Notes and samples of the recorded reeds on a list, as those of a further bank."""
    with open(path) as f:
        lines = [line.rstrip("\n").split("\t") for line in f if line.strip()]
    for key, file in lines:
        run = subprocess.run(["ffmpeg", "-v", "error", "-i", file, "-ac", "1", "-ar", str(RATE), "-f", "f32le", "-"],
                             stdout=subprocess.PIPE, check=True)
        x = np.frombuffer(run.stdout, np.float32).astype(np.float64)[:int(2.2 * RATE)]
        if len(x) < 1.2 * RATE:
            raise ValueError(f"{file}: shorter than 1.2 s")
        yield ("reed", 22, int(key), 100, len(x) / RATE), x


def measure_pitch(x, expected):
    """Pitch in Hz within 90 cents of the expected one: the comb of twelve harmonics
    that gathers the most magnitude (frequencies refined to one cent)."""
    n = 1 << 18
    spectrum = np.abs(np.fft.rfft(x * np.hanning(len(x)), n))
    cents = np.arange(-90, 91)
    f = expected * 2 ** (cents / 1200)
    score = np.zeros(len(f))
    for h in range(1, 13):
        if expected * h > RATE * 0.45:
            break
        band = spectrum[(f * h / RATE * n).astype(int)]
        score += band / (band.max() + 1e-12) * np.sqrt(band.max())
    return f[np.argmax(score)]


def add_loop(x):
    """Find the best matching loop and crossfade 30 ms before its end.

    Returns the samples, the loop's start and its end (the sample played after
    end-1 is the one at start)."""
    fade, window = int(0.03 * RATE), int(0.05 * RATE)
    end = len(x) - int(0.02 * RATE)
    tail = x[end - window:end]
    lo, hi = int(0.45 * RATE), int(1.0 * RATE)
    best, start = -2.0, lo
    for s in range(lo, hi):
        head = x[s - window:s]
        c = head @ tail / np.sqrt((head @ head) * (tail @ tail) + 1e-12)
        if c > best:
            best, start = c, s
    ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    x = x.copy()
    x[end - fade:end] = x[end - fade:end] * (1 - ramp) + x[start - fade:start] * ramp
    return x[:end], start, end, best


def describe(note, x, font):
    """Normalise one note; for reeds measure pitch, onset and loop. None if silent."""
    kind, program, key, velocity, seconds = note
    peak = np.abs(x).max()
    if peak < 1e-4:
        return None
    info = {"font": font, "kind": kind, "program": program, "key": key, "velocity": velocity}
    if kind == "reed":
        steady = x[int(0.5 * RATE):]
        info["hz"] = float(measure_pitch(steady, 440 * 2 ** ((key - 69) / 12)))
        rms = np.sqrt(np.mean(steady ** 2))
        loud = np.sqrt(np.convolve(x[:RATE] ** 2, np.ones(64) / 64, "same")) > rms * 10 ** (-26 / 20)
        info["on"] = int(np.argmax(loud))
        x, info["loop"], info["end"], info["match"] = add_loop(x)
        info["match"] = round(float(info["match"]), 3)
        info["rms"] = float(np.sqrt(np.mean(x[int(0.5 * RATE):] ** 2)) / np.abs(x).max())
    else:
        fade = int(0.05 * RATE)
        if program >= 1000:
            x[-fade:] *= np.linspace(1, 0, fade)
        info["rms"] = float(np.sqrt(np.mean(x[:int(0.4 * RATE)] ** 2)) / np.abs(x).max())
    return info, np.round(x / np.abs(x).max() * 4000).astype(np.int32) * 8


def build(path, reeds=None):
    infos, pieces, offset = [], [], 0
    banks = [(font, zip(wanted(), play(font, wanted()))) for font in FONTS]
    if reeds:
        banks.append((reeds, recorded(reeds)))
    for number, (bank, notes) in enumerate(banks):
        for note, x in notes:
            made = describe(note, x, number)
            if made is None:
                print("silent:", bank, note)
                continue
            info, samples = made
            info["offset"], info["count"] = offset, len(samples)
            offset += len(samples)
            infos.append(info)
            pieces.append(samples)
    samples = np.concatenate(pieces) // 8
    delta = np.diff(samples, n=2, prepend=[0, 0]).astype(np.int16).view(np.uint16)
    planes = (delta >> 8).astype(np.uint8).tobytes() + (delta & 255).astype(np.uint8).tobytes()
    with open(path, "wb") as f:
        f.write(json.dumps(infos).encode() + b"\n")
        f.write(lzma.compress(planes, preset=4))
    print(f"{len(infos)} notes, {offset / RATE:.0f} s, {os.path.getsize(path) / 2**20:.1f} MiB")


def load(path):
    """Read a bank: the list of notes and all samples as int16."""
    with open(path, "rb") as f:
        infos = json.loads(f.readline())
        planes = np.frombuffer(lzma.decompress(f.read()), np.uint8)
    n = len(planes) // 2
    delta = ((planes[:n].astype(np.uint16) << 8) | planes[n:]).view(np.int16)
    # sums of 16-bit differences wrap round exactly as the differences did
    samples = np.cumsum(np.cumsum(delta, dtype=np.int16), dtype=np.int16)
    return infos, (samples * 8).astype(np.int16)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", default="bank.bin")
    parser.add_argument("--reeds", help="list of recorded reeds")
    a = parser.parse_args()
    build(a.out, a.reeds)
