"""A rotating pool of performances and bands in shared memory.

`start` fills the pool with many processes, and when it is full replaces the
oldest entries, so that trainers always read fresh ones. A slot's stamp is even
when it can be read and grows by two with each rewrite; 0 means never written.
"""
import os
import sys
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import multiprocessing as mp

import numpy as np

import bands
import bank as banks
import harp as hp
import render


class Pool:
    """Arrays of the pool's folder, mapped into memory.

    harp int16 [n][samples], rows uint8 [n][frames][40], whole uint8 [n][frames][3],
    base float32 [n] (MIDI number), layout float32 [n][5][40], stamp int64 [n];
    band int16 [m][samples], tonic float32 [m], bandstamp int64 [m]."""

    def __init__(self, folder, harps=0, bandcount=0):
        create = harps > 0
        if create:
            os.makedirs(folder, exist_ok=True)
            with open(os.path.join(folder, "size"), "w") as f:
                f.write(f"{harps} {bandcount}")
        else:
            with open(os.path.join(folder, "size")) as f:
                harps, bandcount = map(int, f.read().split())
        self.harps, self.bands = harps, bandcount
        shapes = {
            "harp": (np.int16, (harps, render.SAMPLES)),
            "rows": (np.uint8, (harps, render.FRAMES, hp.ROWS)),
            "whole": (np.uint8, (harps, render.FRAMES, 3)),
            "base": (np.float32, (harps,)),
            "layout": (np.float32, (harps, 5, hp.ROWS)),
            "stamp": (np.int64, (harps,)),
            "band": (np.int16, (bandcount, bands.SAMPLES)),
            "tonic": (np.float32, (bandcount,)),
            "bandstamp": (np.int64, (bandcount,)),
        }
        for key, (kind, shape) in shapes.items():
            path = os.path.join(folder, key)
            if create:
                array = np.lib.format.open_memmap(path + ".npy", "w+", kind, shape)
            else:
                array = np.lib.format.open_memmap(path + ".npy", "r+")
            setattr(self, key, array)


def work(folder, bank, worker, workers, seed, deadline, people):
    """Fill this worker's slots, every workers-th, over and over until the deadline."""
    parent = os.getppid()
    os.nice(5)  # the trainers go first
    pool = Pool(folder)
    turn = 0
    while time.time() < deadline and os.getppid() == parent:
        mine = [("harp", i) for i in range(worker, pool.harps, workers)]
        mine += [("band", i) for i in range(worker, pool.bands, workers)]
        np.random.default_rng([seed, worker, turn, 7]).shuffle(mine)
        for kind, i in mine:
            if time.time() > deadline or os.getppid() != parent:
                return
            key = [seed, turn, int(i), 0 if kind == "harp" else 1]
            if kind == "harp":
                x, rows, whole, base, layout = render.make(key, bank, people=people)
                pool.stamp[int(i)] += 1
                pool.harp[int(i)], pool.rows[int(i)], pool.whole[int(i)] = x, rows, whole
                pool.base[int(i)], pool.layout[int(i)] = base, layout
                pool.stamp[int(i)] += 1
            else:
                x, tonic = bands.make(key, bank)
                pool.bandstamp[int(i)] += 1
                pool.band[int(i)], pool.tonic[int(i)] = x, tonic
                pool.bandstamp[int(i)] += 1
        turn += 1


def start(folder, bankpath, harps, bandcount, workers, seed, seconds, people=0.0):
    """Create the pool and begin to fill it, a share of `people` as people play; returns the processes."""
    Pool(folder, harps, bandcount)
    bank = render.Bank(*banks.load(bankpath))
    context = mp.get_context("fork")
    processes = [context.Process(target=work, daemon=True,
                                 args=(folder, bank, w, workers, seed, time.time() + seconds, people))
                 for w in range(workers)]
    for p in processes:
        p.start()
    return processes


def heldout(bankpath, count, seed=987654321):
    """Performances and bands kept out of training: other seeds, shifted samples and
    stronger equalisation. Returns lists of render.make's tuples, as before and as people play, and of bands.make's."""
    bank = render.Bank(*banks.load(bankpath))
    return ([render.make([seed, i], bank, heldout=True) for i in range(count)],
            [render.make([seed, i, 2], bank, heldout=True, people=1.0) for i in range(count // 2)],
            [bands.make([seed, i, 1], bank) for i in range(max(4, count // 2))])
