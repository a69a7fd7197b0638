"""Average the weights of models that went on from one start, and export the mean.

    python3 average.py out/ear-c80stride2-0.pt out/ear-c80stride2-1.pt --out out/mean

Writes out/mean.pt (for train.py --init) and out/mean.bin (for the program). A checkpoint
from before the network had all its layers gets them as they begin, also by itself, so that
models that go on from it begin with the same ones.
Wortsman et al. 2022, "Model soups: averaging weights of multiple fine-tuned
models improves accuracy without increasing inference time".
"""
import argparse

import torch

import export
import model as models


def mean(states):
    """Element-wise mean of state dictionaries; counters are taken from the first."""
    first = states[0]
    return {k: torch.stack([s[k].double() for s in states]).mean(0).to(v.dtype) if v.is_floating_point() else v
            for k, v in first.items()}


def whole(checkpoint):
    """The weights of a checkpoint; layers that the network did not have then are as they begin,
    the same whenever they are asked for."""
    torch.manual_seed(571)
    net = models.from_text(checkpoint["model"])
    net.load_state_dict(checkpoint["average"], strict=False)
    return net.state_dict()


def main():
    p = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    p.add_argument("checkpoints", nargs="+")
    p.add_argument("--out", required=True)
    a = p.parse_args()
    loaded = [torch.load(path, map_location="cpu") for path in a.checkpoints]
    state = mean([whole(c) for c in loaded])
    net = models.from_text(loaded[0]["model"])
    net.load_state_dict(state)
    torch.save({"average": state, "model": loaded[0]["model"], "steps": loaded[0]["steps"]}, a.out + ".pt")
    export.write(net, a.out + ".bin", {"steps": loaded[0]["steps"]})


if __name__ == "__main__":
    main()
