"""Counts shares in the JSON of tabs, by itself: JSON on standard input, JSON out.

Shares are of the sounding time, by degree and by texture, on the whole and over each
chord; and of phrases, by the degree that they end on. A reading counts with its
probability, and notes of one event share its time. An event that begins a little before
its place in the bar counts from there.
"""

import json
import sys

NAMES = ["1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"]
KEYS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def key(name):
    return (KEYS[name[0]] + name.count("#") - name[1:].count("b")) % 12


def midi(doc, breath, hole, bend):
    return base(doc) + doc["layout"][breath][hole - 1] - bend


def base(doc):
    words = doc["harp"].split()
    n = 55 + (key(words[-1]) - 55) % 12
    return n - 12 if words[0] == "low" else n + 12 if words[0] == "high" else n


def texture(holes, notes):
    if len(holes) == 1:
        return "single note"
    if len(holes) > 2:
        return "chord"
    return "double stop" if holes[1] - holes[0] == 1 else "%d split" % (notes[1] - notes[0])


def readings(doc, event):
    out = []
    for r in [event] + event["alternatives"]:
        if not r["holes"]:
            continue
        notes = [midi(doc, r["breath"], h, b) for h, b in zip(r["holes"], r["bends"])]
        degrees = sorted({(n - key(doc["song_key"])) % 12 for n in notes})
        out.append((r["confidence"], degrees, texture(r["holes"], notes)))
    return out


def bars(doc):
    list_ = doc["bars"]
    for i, b in enumerate(list_):
        if i + 1 < len(list_):
            long = list_[i + 1]["start"] - b["start"]
        yield b["number"], b["start"], b["start"] + long, b.get("chord", "").split()


def place(doc, event):
    bar, rest = event["place"].split("|")
    beat, _, part = rest.partition("+")
    beats = int(beat) - 1
    if part:
        n, d = part.split("/")
        beats += int(n) / int(d)
    for number, start, end, _ in bars(doc):
        if number == int(bar):
            return start + beats * (end - start) / 4
    return event["start"]


def main():
    doc = json.load(sys.stdin)
    time, ends = {}, {}
    alls = {}

    def add(table, name, over, value):
        table[name + "|" + over] = table.get(name + "|" + over, 0) + value

    for e in doc["events"]:
        long = e["end"] - e["start"]
        spans = [("", long)]
        begin = max(e["start"], place(doc, e))
        for _, start, end, chords in bars(doc):
            for k, c in enumerate(chords):
                a = start + k * (end - start) / len(chords)
                z = a + (end - start) / len(chords)
                spans.append((c, max(0, min(z, e["end"]) - max(a, begin))))
        for over, seconds in spans:
            if seconds == 0:
                continue
            alls[over] = alls.get(over, 0) + seconds
            for p, degrees, tex in readings(doc, e):
                add(time, tex, over, p * seconds)
                for d in degrees:
                    add(time, NAMES[d], over, p * seconds / len(degrees))
    phrases = doc["phrases"]
    for i, f in enumerate(phrases):
        stop = phrases[i + 1]["start"] if i + 1 < len(phrases) else 1e9
        last = [e for e in doc["events"] if f["start"] - 0.0005 <= e["start"] < stop - 0.0005][-1]
        for p, degrees, _ in readings(doc, last):
            for d in degrees:
                add(ends, NAMES[d], "", p / len(degrees) / len(phrases))
    shares = {k: v / alls[k.split("|")[1]] for k, v in time.items()}
    json.dump({"shares": shares, "ends": ends}, sys.stdout)


main()
