"""Train ears on fresh synthesized performances, against the clock.

    python3 train.py --bank bank.bin --model c=48,stride=2 --model c=32,stride=1 --minutes 9.2 --out out

One process per model, one GPU each while they last; all other cores render.
Writes out/ear-<model>.bin (see export.py), .pt (to go on from, --init) and .log.
--people is the share of performances as people play (people.py); --recorded names the
excerpts (recorded.py) that take the place of made bands and are heard without a harp.
"""
import argparse
import contextlib
import math
import os
import shutil
import subprocess
import sys
import threading
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import numpy as np
import torch
import torch.nn.functional as F

import effects
import export
import features
import model as models
import pool as pools
import recorded
import render

HOP, RATE = 256, 22050
OFTEN = {"guitar": 0.3, "song": 0.25, "game": 0.33, "loop": 0.07, "speech": 0.05}  # of recorded sound, by kind


class Feed:
    """A copy of the pool on the device, kept fresh by a thread."""

    def __init__(self, folder, device, excerpts="", share=0.0, alone=0.0):
        self.pool, self.device = pools.Pool(folder), device
        p = self.pool
        self.harp = torch.zeros(p.harp.shape, dtype=torch.int16, device=device)
        self.rows = torch.zeros(p.rows.shape, dtype=torch.uint8, device=device)
        self.whole = torch.zeros(p.whole.shape, dtype=torch.uint8, device=device)
        self.base = torch.zeros(p.base.shape, device=device)
        self.layout = torch.zeros(p.layout.shape, device=device)
        self.band = torch.zeros(p.band.shape, dtype=torch.int16, device=device)
        self.tonic = torch.zeros(p.tonic.shape, device=device)
        self.seen, self.bandseen = np.zeros(p.harps, np.int64), np.zeros(p.bands, np.int64)
        self.harps = self.bands = None  # indices of what can be used
        self.updates = 0
        self.lock = threading.Lock()
        self.stopping = False
        # semitones of a band's tonic over the harp's key, -1 for any: bands mostly in keys
        # that the harp is played in, second, first and third position
        self.positions = torch.tensor([7., 7., 7., 0., 0., 2., -1., -1.], device=device)
        self.codes = self.table = self.often = None  # of recorded excerpts
        self.share, self.alone = share, alone  # of recorded bands among all; of recorded sound without a harp
        if excerpts:
            index, codes = recorded.load(excerpts)
            kinds = [e["kind"] for e in index]
            self.codes, self.table = torch.from_numpy(codes).to(device), torch.from_numpy(recorded.table()).to(device)
            self.often = torch.tensor([OFTEN[k] / kinds.count(k) for k in kinds], device=device)

    def without(self, b):
        """How many of a batch are recorded sound without a harp: the first ones."""
        return 0 if self.codes is None else int(round(self.alone * b))

    def refresh(self, most=48):
        """Copy up to `most` changed entries of each kind; returns how many."""
        p, copied = self.pool, 0
        for kind, stamps, seen, names in (
                ("harps", p.stamp, self.seen, ("harp", "rows", "whole", "base", "layout")),
                ("bands", p.bandstamp, self.bandseen, ("band", "tonic"))):
            now = np.array(stamps)
            changed = np.nonzero((now > seen) & (now % 2 == 0))[0]
            if len(changed) > most:
                changed = np.random.default_rng(self.updates).permutation(changed)[:most]
            if not len(changed):
                continue
            changed.sort()
            parts = [np.array(getattr(p, name)[changed]) for name in names]
            same = np.array(stamps)[changed] == now[changed]
            changed, parts = changed[same], [part[same] for part in parts]
            if not len(changed):
                continue
            index = torch.from_numpy(changed).to(self.device)
            parts = [torch.from_numpy(part).to(self.device) for part in parts]
            with self.lock:
                for name, part in zip(names, parts):
                    getattr(self, name).index_copy_(0, index, part)
                seen[changed] = now[changed]
                setattr(self, kind, torch.from_numpy(np.nonzero(seen)[0]).to(self.device))
            copied += len(changed)
            self.updates += len(changed)
        return copied

    def run(self, stream):
        if stream is not None:
            torch.cuda.set_stream(stream)  # so that nothing is rewritten while a batch is read
        while not self.stopping:
            if not self.refresh():
                time.sleep(0.5)
            time.sleep(0.04)

    def wait(self, harps, bands, deadline):
        while time.time() < deadline:
            self.refresh(512)
            if np.count_nonzero(self.seen) >= harps and np.count_nonzero(self.bandseen) >= bands:
                break
            time.sleep(0.1)

    def batch(self, studio, b, frames):
        """Random crops: harp, band, speed ratio, row labels, global labels, base (MIDI), layout and
        [b][1] 1 where the band is a recorded one."""
        with self.lock:
            r, device = studio.random, self.device
            pick = lambda n, shape: torch.randint(0, n, shape, device=device, generator=r)
            i = self.harps[pick(len(self.harps), (b,))]
            first = pick(render.FRAMES - frames, (b,))
            at = first[:, None] * HOP + torch.arange(frames * HOP, device=device)
            harp = torch.gather(self.harp[i], 1, at.clamp(max=render.SAMPLES - 1)).float() / 32768
            f = (first[:, None] + torch.arange(frames, device=device))
            rows, whole = self.rows[i[:, None], f], self.whole[i[:, None], f]
            base, layout = self.base[i], self.layout[i]
            want = self.positions[pick(8, (b,))]
            options = self.bands[pick(len(self.bands), (b, 48))]
            distance = (self.tonic[options] - torch.round(base)[:, None] - want[:, None]) % 12
            j = options.gather(1, torch.where((distance == 0) | (want[:, None] < 0), 1.0, 0.0).argmax(1, keepdim=True))[:, 0]
            m = int(frames * HOP * (1.1 if self.codes is None else 1.13)) + 16
            n = self.band.shape[1]
            shift = pick(max(1, n - m), (b,))
            band = torch.gather(self.band[j], 1, (shift[:, None] + torch.arange(m, device=device)).clamp(max=n - 1)).float() / 32768
        off = base - torch.round(base) + 0.05 * studio.normal((b,))
        ratio, taken = (2 ** (off / 12))[:, None], torch.zeros((b, 1), device=device)
        if self.codes is not None:
            none = self.without(b)
            taken = (studio.uniform((b, 1), 0, 1) < self.share).float()
            taken[:none] = 1
            q = torch.multinomial(self.often, b, replacement=True, generator=r)
            at = pick(self.codes.shape[1] - m, (b,))[:, None] + torch.arange(m, device=device)
            part = self.table[self.codes[q[:, None], at].long()]
            band = torch.where(taken > 0, part, band)
            ratio = torch.where(taken > 0, 2 ** (studio.uniform((b, 1), -2, 2) / 12), ratio)
            for part in (harp, rows, whole):
                part[:none] = 0
        return harp, band, ratio, rows, whole, base, layout, taken


class Maker:
    """Batches with their effects and features. On a GPU they are made on a stream of their
    own while the network learns from the batch before, and the effects run as one CUDA graph,
    for there are over a thousand small operations in them; without one where that fails."""

    def __init__(self, feed, device, seed, b, frames, settings):
        self.feed, self.device, self.b, self.frames, self.settings = feed, device, b, frames, settings
        self.picks, self.studio = effects.Studio(device, seed), effects.Studio(device, seed + 50000)
        self.stream = torch.cuda.Stream(device) if device.type == "cuda" else None
        self.graph = self.inputs = self.outputs = None

    def on_stream(self):
        return contextlib.nullcontext() if self.stream is None else torch.cuda.stream(self.stream)

    def make(self, harp, band, ratio, rows, whole, base, layout, taken):
        """A feed's batch to the network's input, layout and targets."""
        studio, b = self.studio, self.b
        x = studio.produce(harp, band, ratio, (rows & 1).amax(2).float(), self.settings, taken, self.feed.without(b))
        if self.settings is effects.PEOPLE:
            x, rows, whole = studio.silence(x, rows, whole)
        half = b // 2
        miss = torch.cat([studio.uniform((half,), -55, 55), studio.uniform((b - half,), -15, 15)])
        v = features.features(x, midi_to_hz(base + miss / 100), self.frames)
        if self.stream is not None:
            v = v.to(torch.bfloat16)
        layout = layout * (studio.uniform((b, 1, 1), 0, 1) > 0.05)
        return (v, layout, *targets(rows, whole))

    def record(self):
        """Record the graph; call it before anything else uses the device."""
        with self.on_stream(), torch.no_grad():
            self.inputs = [t.clone() for t in self.feed.batch(self.picks, self.b, self.frames)]
            for _ in range(3):
                self.make(*self.inputs)
        torch.cuda.synchronize(self.device)
        graph = torch.cuda.CUDAGraph()
        graph.register_generator_state(self.studio.random)
        with torch.no_grad(), torch.cuda.graph(graph, stream=self.stream, capture_error_mode="thread_local"):
            self.outputs = self.make(*self.inputs)
        self.graph = graph

    def prepare(self, say):
        """Record the graph if that works; begin with the first batch."""
        if self.stream is not None:
            torch.cuda.synchronize(self.device)
            try:
                self.record()
            except Exception as e:
                say(f"effects without a graph: {e}")
                self.graph, self.studio = None, effects.Studio(self.device, self.studio.random.initial_seed() + 1)
        self.fill()

    def fill(self):
        with self.on_stream(), torch.no_grad():
            batch = self.feed.batch(self.picks, self.b, self.frames)
            if self.graph is None:
                self.outputs = self.make(*batch)
                return
            for ours, new in zip(self.inputs, batch):
                ours.copy_(new)
            self.graph.replay()

    def take(self):
        """The batch that is ready: input, layout, targets; begins with the next one."""
        if self.stream is None:
            out = self.outputs
        else:
            current = torch.cuda.current_stream(self.device)
            current.wait_stream(self.stream)
            out = [t.clone() for t in self.outputs]
            self.stream.wait_stream(current)
        self.fill()
        return out[0], out[1], out[2:]


def quickest(net, b, frames, autocast, say):
    """The network compiled, where that works, computes the same and is quicker; else itself.
    The weights stay as they are."""
    if not hasattr(torch, "compile"):
        return net
    device = next(net.parameters()).device
    before = {k: v.clone() for k, v in net.state_dict().items()}
    v = torch.rand((b, 16, 120, frames), device=device).to(torch.bfloat16)
    layout = (torch.rand((b, 5, 40), device=device) > 0.5).float()

    def once(f):
        with autocast():
            row, whole = f(v, layout)
        (row.square().mean() + whole.square().mean()).backward()
        return row.detach()

    def measure(f):
        first = once(f)
        for _ in range(2):
            once(f)
        torch.cuda.synchronize(device)
        since = time.time()
        for _ in range(10):
            once(f)
        torch.cuda.synchronize(device)
        return first, 100 * (time.time() - since)

    chosen = net
    try:
        since = time.time()
        row, plain = measure(net)
        net.load_state_dict(before)
        fast = torch.compile(net, dynamic=False)
        same, compiled = measure(fast)
        off = float((row - same).abs().mean() / row.std())
        say(f"network, ms a step: {plain:.1f} as it is, {compiled:.1f} compiled; differs by {off:.4f} of a deviation; "
            f"{time.time() - since:.0f} s to find out")
        if off < 0.05 and compiled < plain:
            chosen = fast
    except Exception as e:
        say(f"not compiled: {e}")
    net.load_state_dict(before)
    net.zero_grad(set_to_none=True)
    return chosen


def targets(rows, whole):
    """Labels to training targets: sounding and widened attack [B][40][T], breath, count [B][T],
    widened event attack [B][T]."""
    sounding = (rows & 1).float().transpose(1, 2)
    attack = (rows >> 1).float().transpose(1, 2)
    return sounding, widen(attack), whole[..., 0].long(), whole[..., 1].long(), widen(whole[..., 2].float())


def widen(a):
    beside = torch.maximum(F.pad(a, (1, 0))[..., :-1], F.pad(a, (0, 1))[..., 1:])
    return torch.maximum(a, 0.5 * beside)


def loss_of(row, whole, t):
    sounding, attack, breath, count, event = t
    s = F.binary_cross_entropy_with_logits(row[..., 0], sounding, weight=1 + sounding + 2 * octaves(sounding))
    a = F.binary_cross_entropy_with_logits(row[..., 1], attack, weight=1 + 2 * attack)
    e = F.binary_cross_entropy_with_logits(whole[..., 7], event, weight=1 + event)
    b = F.cross_entropy(whole[..., :3].flatten(0, 1), breath.flatten())
    c = F.cross_entropy(whole[..., 3:7].flatten(0, 1), count.flatten())
    return 20 * s + 30 * a + e + 0.3 * b + 0.3 * c, (s, a, e, b, c)


def octaves(sounding):
    """1 where a reed an octave above or below sounds: the cells that are hardest to tell."""
    above, below = F.pad(sounding, (0, 0, 12, 0))[:, :-12], F.pad(sounding, (0, 0, 0, 12))[:, 12:]
    return torch.maximum(above, below)


class Average:
    """Moving average of weights and of the normalisers' statistics."""

    def __init__(self, net, decay=0.9985):
        self.decay, self.steps = decay, 0
        self.values = {k: v.detach().clone() for k, v in net.state_dict().items()}

    @torch.no_grad()
    def update(self, net):
        self.steps += 1
        decay = min(self.decay, (1 + self.steps) / (10 + self.steps))
        now = net.state_dict()
        ours = [v for v in self.values.values() if v.is_floating_point()]
        theirs = [now[k].detach() for k, v in self.values.items() if v.is_floating_point()]
        torch._foreach_mul_(ours, decay)
        torch._foreach_add_(ours, theirs, alpha=1 - decay)


class Judge:
    """Held-out recordings under several conditions, made once: performances as before, performances as
    people play, and recorded sound, with a harp and without."""

    def __init__(self, folder, device, seed=77, batch=20):
        data = np.load(os.path.join(folder, "heldout.npz"))
        self.device, self.sets, self.batch = device, {}, batch
        self.studio = effects.Studio(device, seed)
        plain = {k: torch.from_numpy(data[k]) for k in ("harp", "rows", "whole", "base", "layout")}
        played = {k: torch.from_numpy(data["played_" + k]) for k in plain}
        made, heard = torch.from_numpy(data["band"]), torch.from_numpy(data["recorded"])
        for name, settings in effects.CONDITIONS.items():
            self.sets[name] = self.produce(plain, made, settings)
        for name, settings in effects.PLAYED.items():
            self.sets[name] = self.produce(played, heard if len(heard) else made, settings)
        if len(heard):
            for name, settings in effects.NONE.items():
                none = {k: v[:len(heard)] for k, v in plain.items()}
                none.update({k: torch.zeros_like(none[k]) for k in ("harp", "rows", "whole")})
                self.sets[name] = self.produce(none, heard, settings)

    def produce(self, group, band, settings):
        """Recordings of a group of performances with their truth, in batches."""
        studio, device, frames, made = self.studio, self.device, render.FRAMES - 2, []
        for k in range(0, len(group["harp"]), self.batch):
            harp, rows, whole, base, layout = (group[n][k:k + self.batch] for n in ("harp", "rows", "whole", "base", "layout"))
            b, rows, whole = len(harp), rows[:, :frames], whole[:, :frames]
            x = studio.produce(harp[:, :frames * HOP].to(device).float() / 32768,
                               band[torch.arange(k, k + b) % len(band)].to(device).float() / 32768,
                               torch.ones((b, 1), device=device), (rows & 1).amax(2).float().to(device), settings)
            miss = studio.uniform((b,), -15, 15)
            made.append((x.cpu(), rows, whole, (base.to(device) + miss / 100).cpu(), layout))
        return made

    @torch.no_grad()
    def score(self, net, autocast):
        """For each condition F1 of sounding, F1 of attacks, share of frames with the right breath, F1 of
        octaves and false attacks a minute."""
        net.eval()
        lines = {}
        for name, made in self.sets.items():
            sums = np.zeros(13)
            for x, rows, whole, base, layout in made:
                frames = rows.shape[1] // 2 * 2
                v = features.features(x.to(self.device), midi_to_hz(base.to(self.device)), frames)
                with autocast():
                    row, glob = net(v, layout.to(self.device))
                truth = rows[:, :frames].to(self.device).transpose(1, 2)
                on, hit = row[..., 0] > 0, truth & 1 > 0
                a = row[..., 1]
                peak = (a > 0) & (a >= F.max_pool2d(a[:, None], (1, 5), 1, (0, 2))[:, 0])
                struck = truth >> 1 > 0
                near = lambda m: F.max_pool2d(m.float()[:, None], (1, 7), 1, (0, 3))[:, 0] > 0
                right = (glob[..., :3].argmax(-1) == whole[:, :frames, 0].to(self.device))
                octave = octaves(hit.float()) > 0
                sums += np.array([float(q.sum()) for q in (
                    on & hit, on, hit, peak & near(struck), peak, struck & near(peak), struck, right,
                    on & hit & octave, on & octave, hit & octave)] + [right.numel(), float((peak & ~near(struck)).sum())])
            f = lambda tp, a, b: 2 * tp / max(1, a + b)
            precision, recall = sums[3] / max(1, sums[4]), sums[5] / max(1, sums[6])
            lines[name] = (f(sums[0], sums[1], sums[2]), 2 * precision * recall / max(1e-9, precision + recall), sums[7] / sums[11],
                           f(sums[8], sums[9], sums[10]), sums[12] / (sums[11] * HOP / RATE / 60))
        net.train()
        return lines


def midi_to_hz(m):
    return 440 * 2 ** ((m - 69) / 12)


def trainer(a):
    """Train one model until a.until (seconds since 1970)."""
    device = torch.device(a.device)
    cuda = device.type == "cuda"
    torch.manual_seed(a.seed)
    log = open(os.path.join(a.out, f"ear-{a.name}.log"), "a", buffering=1)

    def say(text):
        print(f"[{a.name}] {text}", flush=True)
        log.write(text + "\n")

    began = time.time()
    if cuda:
        torch.cuda.set_device(device)
        torch.backends.cudnn.benchmark = True
        torch.backends.cuda.matmul.allow_tf32 = True  # the features go to the network in bfloat16 anyway
    autocast = (lambda: torch.autocast("cuda", torch.bfloat16)) if cuda else contextlib.nullcontext
    net = models.from_text(a.model[0]).to(device)
    if a.init:
        missing, unknown = net.load_state_dict(torch.load(a.init, map_location=device)["average"], strict=False)
        say(f"going on from {a.init}; new: {', '.join(missing) or 'nothing'}; dropped: {', '.join(unknown) or 'nothing'}")
    say(f"model {a.model[0]}: {sum(p.numel() for p in net.parameters())} parameters, device "
        f"{torch.cuda.get_device_name(device) if cuda else 'cpu'}, torch {torch.__version__}")
    plain = [p for n, p in net.named_parameters() if p.ndim < 2 or n == "embed"]
    decayed = [p for n, p in net.named_parameters() if not (p.ndim < 2 or n == "embed")]
    optimiser = torch.optim.AdamW([{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}],
                                  lr=a.lr, betas=(0.9, 0.98))
    average = Average(net)
    judged = models.from_text(a.model[0]).to(device)
    frames = int(a.crop * RATE / HOP) // 4 * 4
    fast = quickest(net, a.batch, frames, autocast, say) if cuda else net
    feed = Feed(a.pool, device, a.recorded, a.recorded_share, a.alone)
    feed.wait(a.wait, max(2, a.wait // 8), a.until - 1)
    say(f"{len(feed.harps)} performances and {len(feed.bands)} bands after {time.time() - began:.1f} s")
    if feed.codes is not None:
        say(f"{len(feed.codes)} recorded excerpts: {a.recorded_share:.2f} of the bands, "
            f"{feed.without(a.batch)} of {a.batch} without a harp")
    maker = Maker(feed, device, a.seed + 1, a.batch, frames, effects.PEOPLE if a.people > 0 else effects.TRAINING)
    maker.prepare(say)
    fresh = threading.Thread(target=feed.run, args=(maker.stream,), daemon=True)
    fresh.start()
    judge, step, sums, last = None, 0, torch.zeros(6, device=device), time.time()
    start = time.time()
    next_score, next_save = start + a.score_every, start + a.save_every

    def judging():
        nonlocal judge
        if judge is None and os.path.exists(os.path.join(a.pool, "heldout.npz")):
            judge = Judge(a.pool, device)
        return judge is not None

    def score(kind):
        if judging():
            for name, (s, t, b, o, f) in judge.score(judged, autocast).items():
                say(f"{kind} {time.time() - start:.0f} s step {step} {name}: sounding F1 {s:.4f} attack F1 {t:.4f} "
                    f"breath {b:.4f} octaves F1 {o:.4f} false attacks {f:.1f} a minute")

    def save():
        path = os.path.join(a.out, f"ear-{a.name}")
        torch.save({"average": average.values, "model": a.model[0], "steps": step}, path + ".pt.part")
        judged.load_state_dict(average.values)
        export.write(judged, path + ".bin.part", {"steps": step, "trained_s": round(time.time() - start)})
        for end in (".pt", ".bin"):
            os.replace(path + end + ".part", path + end)

    def finish(final):
        save()
        score("final" if final else "held-out")

    while time.time() < a.until and step < a.steps:
        progress = min(1.0, (time.time() - start) / (a.until - start))
        rate = a.lr * min(1, (step + 1) / a.warm) * 0.5 * (1 + math.cos(math.pi * progress))
        for group in optimiser.param_groups:
            group["lr"] = max(rate, 1e-6)
        v, layout, goal = maker.take()
        with autocast():
            row, glob = fast(v, layout)
        loss, parts = loss_of(row, glob, goal)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        average.update(net)
        sums += torch.stack([loss.detach(), *[p.detach() for p in parts]])
        step += 1
        if cuda and step in (20, 60):
            torch.cuda.synchronize(device)
            if step == 60:
                say(f"ms a step: {1000 * (time.time() - since) / 40:.1f}")
            since = time.time()
        if step % a.log_every == 0:
            mean = (sums / a.log_every).tolist()
            sums.zero_()
            say(f"{time.time() - start:.0f} s step {step} loss {mean[0]:.4f} sounding {mean[1]:.5f} attack {mean[2]:.5f} "
                f"event {mean[3]:.4f} breath {mean[4]:.4f} count {mean[5]:.4f} rate {rate:.2e} "
                f"{a.log_every / (time.time() - last):.1f} steps/s pool {len(feed.harps)}+{len(feed.bands)} copied {feed.updates}")
            if not math.isfinite(mean[0]):
                raise SystemExit("the loss is no longer a number")
            last = time.time()
        if a.init and not a.unscored and step % 500 == 0 and judge is None and judging():
            judged.load_state_dict(torch.load(a.init, map_location=device)["average"], strict=False)
            score("at the start")
            last = time.time()
        if time.time() > next_save:
            save()
            next_save = time.time() + a.save_every
        if time.time() > next_score and a.until - time.time() > 40:
            finish(False)
            next_score, last = time.time() + a.score_every, time.time()
    finish(True)
    if cuda:
        say(f"memory on the device: {torch.cuda.max_memory_allocated(device) / 2**30:.1f} GiB; {step} steps of {a.batch} crops "
            f"of {frames * HOP / RATE:.2f} s in {time.time() - start:.0f} s")
    feed.stopping = True
    fresh.join(10)


def render_heldout(bank, count, folder, excerpts):
    harps, played, bandlist = pools.heldout(bank, count)
    names = ("harp", "rows", "whole", "base", "layout")
    stack = lambda group, k: np.stack([np.asarray(h[k], None if k != 3 else np.float32) for h in group])
    arrays = {n: stack(harps, k) for k, n in enumerate(names)}
    arrays.update({"played_" + n: stack(played, k) for k, n in enumerate(names)})
    heard = np.zeros((0, recorded.SAMPLES), np.int16)
    if excerpts:
        heard = np.round(recorded.table()[recorded.load(excerpts)[1]][:count] * 32767).astype(np.int16)
    np.savez(os.path.join(folder, "making.npz"), band=np.stack([b[0] for b in bandlist]), recorded=heard, **arrays)
    os.rename(os.path.join(folder, "making.npz"), os.path.join(folder, "heldout.npz"))


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("--bank", default="bank.bin")
    p.add_argument("--out", default="out")
    p.add_argument("--pool", default="", help="folder of the pool; a new one in shared memory by default")
    p.add_argument("--model", action="append", help="c=48,stride=2; may be given several times")
    p.add_argument("--minutes", type=float, default=9.2, help="wall-clock time of everything")
    p.add_argument("--seconds", type=float, default=0, help="the same in seconds, instead of --minutes")
    p.add_argument("--people", type=float, default=0.0, help="share of performances as people play; effects to match")
    p.add_argument("--recorded", default="", help="recorded excerpts (recorded.py's NAME, without its ending)")
    p.add_argument("--recorded-share", type=float, default=0.6, help="of the bands that are recorded ones")
    p.add_argument("--alone", type=float, default=0.125, help="share of crops that are recorded sound without a harp")
    p.add_argument("--held", default="", help="recorded excerpts that are kept for the scores")
    p.add_argument("--reserve", type=float, default=25, help="seconds kept for the last scores")
    p.add_argument("--steps", type=int, default=10**9)
    p.add_argument("--batch", type=int, default=48)
    p.add_argument("--crop", type=float, default=8.0, help="seconds")
    p.add_argument("--lr", type=float, default=2.5e-3)
    p.add_argument("--warm", type=int, default=300)
    p.add_argument("--harps", type=int, default=8000, help="performances in the pool")
    p.add_argument("--bands", type=int, default=1500)
    p.add_argument("--heldout", type=int, default=200)
    p.add_argument("--wait", type=int, default=2000, help="performances to wait for before training")
    p.add_argument("--workers", type=int, default=0)
    p.add_argument("--device", default="")
    p.add_argument("--init", action="append", help=".pt to go on from, one per model or none")
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--log-every", type=int, default=100)
    p.add_argument("--score-every", type=float, default=120)
    p.add_argument("--save-every", type=float, default=45, help="seconds between weights written without scores")
    p.add_argument("--unscored", action="store_true", help="do not score the models to go on from")
    p.add_argument("--until", type=float, default=0, help=argparse.SUPPRESS)
    p.add_argument("--name", default="", help=argparse.SUPPRESS)
    a = p.parse_args()
    a.model = a.model or ["c=48,stride=2"]
    if a.name:
        a.init = a.init[0] if a.init else None
        return trainer(a)

    begun = time.time()
    seconds = a.seconds or 60 * a.minutes
    until = begun + seconds - a.reserve
    os.makedirs(a.out, exist_ok=True)
    places = [place for place in ("/dev/shm", "/tmp") if os.path.isdir(place)]
    room = lambda place: min(shutil.disk_usage(place).free, 12 << 30)  # the first with room enough
    folder = a.pool or os.path.join(max(places, key=room), f"ear-pool-{os.getpid()}")
    os.makedirs(folder, exist_ok=True)
    free = shutil.disk_usage(folder).free
    fits = int(0.7 * free / (render.SAMPLES * 2 + render.FRAMES * 43 + 264600))
    harps, bandcount = min(a.harps, fits), min(a.bands, max(4, fits // 4))
    workers = a.workers or max(1, (os.cpu_count() or 2) - 2 * len(a.model))
    print(f"pool {folder}: {harps} performances, {bandcount} bands, {workers} workers, {free / 2**30:.0f} GiB free", flush=True)
    pools.start(folder, a.bank, harps, bandcount, workers, a.seed, seconds, a.people)
    held = pools.mp.get_context("fork").Process(target=render_heldout, args=(a.bank, a.heldout, folder, a.held), daemon=True)
    held.start()
    gpus = torch.cuda.device_count()
    children = []
    names = ["".join(ch for ch in m if ch.isalnum()) for m in a.model]
    for k, m in enumerate(a.model):
        name = names[k] if names.count(names[k]) == 1 else f"{names[k]}-{k}"
        device = a.device or (f"cuda:{k % gpus}" if gpus else "cpu")
        command = [sys.executable, os.path.abspath(__file__), "--name", name, "--model", m, "--device", device,
                   "--until", str(until), "--pool", folder, "--out", a.out, "--seed", str(a.seed + 100 * k)]
        for option in ("steps", "batch", "crop", "lr", "warm", "wait", "log_every", "score_every", "save_every", "people",
                       "recorded", "recorded_share", "alone"):
            command += ["--" + option.replace("_", "-"), str(getattr(a, option))]
        command += ["--unscored"] if a.unscored else []
        if a.init and k < len(a.init) and a.init[k]:
            command += ["--init", a.init[k]]
        environment = dict(os.environ, OMP_NUM_THREADS="1" if gpus else "2")
        children.append(subprocess.Popen(command, env=environment))
    code = max(abs(c.wait()) for c in children)
    if not a.pool:
        shutil.rmtree(folder, ignore_errors=True)
    print(f"done in {time.time() - begun:.0f} s", flush=True)
    sys.exit(code)


if __name__ == "__main__":
    main()
