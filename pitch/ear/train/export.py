"""Write a trained ear for the program, and read one back for checks.

File: the line `blowdraw-ear 1`, a line of JSON, then little-endian float16:

    {"config": {"c", "stride", ...}, "tensors": [{"name", "shape", "offset"} ...], "sha256"}

Offsets count bytes from the start of the data; sha256 is that of the data.
Normalisation is folded in, so the network is, with x [C][40][T/stride]:

    x = relu(conv1(features) + conv1.b + embed + layout.w * layout)
    x = relu(x + res1(x)); x = relu(x + res2(x)); x = relu(x + dwf(x))
    x = relu(x + res3(x)); x = relu(x + dwt(x)); x = relu(x + context(x))
    x = relu(x + res4(x)); x = relu(x + dwl(x)); x = relu(x + res5(x))
    x = relu(x + dwg(x)); x = relu(x + res6(x))

conv1.w [C][16][7 bins][kt], stride 3 over bins (row r covers bins 3r-2..3r+4) and
`stride` over time: kt 4 (frames 2j-1..2j+2) for stride 2, kt 3 (t-1..t+1) for 1.
res1..6.w [C][C][3 rows][3 frames], time dilation 1, 1, 2, 4, 1, 1. dwf.w and dwg.w [C][25]
along rows, dwt.w [C][15] along frames, dwl.w [C][15] along every eighth frame, each
channel by itself. All are cross-correlations, zeros outside. The context: u = relu of
context.keep.w [32][C], g = sigmoid of context.gate.w [1][C]; m = sum(u*g)/(sum(g)+1) over
172 steps to either side, of each row and of all rows together; context.back.w [C][64] of both.

row.w [2s][C]: logits of output frame j, sub-frame u (input frame s*j+u): index
2u sounding, 2u+1 attack. g1.w [12][C], relu; flattened row-major, index
12*row + channel; g2.w [128][480][3] over time, relu; g3.w [s*88][128], index
88*u + k: k 0..2 breath (none, blow, draw), 3..6 reeds (0, 1, 2, 3 or more), 7
event attack, 8..47 added to the sounding logits of rows 0..39, 48..87 to the
attack logits.
"""
import hashlib
import json

import numpy as np
import torch
import torch.nn.functional as F

import model as models


def folded(net):
    """Tensors of the file by name, normalisation folded in, float32 numpy."""
    state = {k: v.detach().float().cpu().numpy().astype(np.float64) for k, v in net.state_dict().items()}

    def scale(name):
        s = state[name + ".weight"] / np.sqrt(state[name + ".running_var"] + 1e-5)
        return s, state[name + ".bias"] - state[name + ".running_mean"] * s

    out = {}
    s, b = scale("norm1")
    out["conv1.w"] = state["conv1.weight"] * s[:, None, None, None]
    out["conv1.b"] = state["conv1.bias"] * s + b
    out["embed"] = state["embed"] * s[:, None]
    out["layout.w"] = state["layout.weight"] * s[:, None]
    for i in range(4):
        s, b = scale(f"norms.{i}")
        out[f"res{i + 1}.w"], out[f"res{i + 1}.b"] = state[f"res.{i}.weight"] * s[:, None, None, None], b
    for i in (5, 6):
        s, b = scale(f"norm{i}")
        out[f"res{i}.w"], out[f"res{i}.b"] = state[f"res{i}.weight"] * s[:, None, None, None], b
    for name, norm in (("dwf", "normf"), ("dwt", "normt"), ("dwl", "norml"), ("dwg", "normg")):
        s, b = scale(norm)
        out[name + ".w"], out[name + ".b"] = state[name] * s[:, None], b
    for name in ("row", "g1", "g2", "g3", "context.keep", "context.gate", "context.back"):
        out[name + ".w"], out[name + ".b"] = state[name + ".weight"].squeeze(), state[name + ".bias"]
    out["g2.w"] = state["g2.weight"]
    return out


def write(net, path, notes=None):
    tensors, data = [], b""
    for name, value in folded(net).items():
        half = value.astype("<f2")
        if not np.isfinite(half).all():
            raise ValueError(f"writing {path}: {name} does not fit 16 bits")
        tensors.append({"name": name, "shape": list(half.shape), "offset": len(data)})
        data += half.tobytes()
    config = {"c": net.c, "stride": net.stride, **(notes or {})}
    header = {"config": config, "tensors": tensors, "sha256": hashlib.sha256(data).hexdigest()}
    with open(path, "wb") as f:
        f.write(b"blowdraw-ear 1\n" + json.dumps(header).encode() + b"\n" + data)


def read(path):
    """Config and float32 tensors of a file."""
    with open(path, "rb") as f:
        if f.readline() != b"blowdraw-ear 1\n":
            raise ValueError(f"reading {path}: not an ear")
        header = json.loads(f.readline())
        data = f.read()
    if hashlib.sha256(data).hexdigest() != header["sha256"]:
        raise ValueError(f"reading {path}: the checksum differs")
    tensors = {}
    for t in header["tensors"]:
        n = int(np.prod(t["shape"]))
        tensors[t["name"]] = torch.from_numpy(np.frombuffer(data, "<f2", n, t["offset"]).astype(np.float32)).reshape(t["shape"])
    return header["config"], tensors


def context(w, x):
    u = F.relu(torch.einsum("oc,bcrt->bort", w["context.keep.w"], x) + w["context.keep.b"][:, None, None])
    g = torch.sigmoid(torch.einsum("c,bcrt->brt", w["context.gate.w"].flatten(), x) + w["context.gate.b"])[:, None]
    size = 2 * models.SPAN + 1
    near = F.avg_pool2d(torch.cat([u * g, g], 1), (1, size), 1, (0, models.SPAN)) * size
    whole = near.sum(2, keepdim=True).expand_as(near)
    means = torch.cat([m[:, :-1] / (m[:, -1:] + 1) for m in (near, whole)], 1)
    return torch.einsum("oc,bcrt->bort", w["context.back.w"], means) + w["context.back.b"][:, None, None]


def run(config, w, x, layout):
    """The network as the file describes it: x [B][16][120][T], layout [B][5][40].
    Returns row logits [B][40][T][2], global logits [B][T][8]."""
    s = config["stride"]
    x = F.conv2d(x, w["conv1.w"], w["conv1.b"], stride=(3, s), padding=(2, 1))
    x = F.relu(x + w["embed"][None, :, :, None] + torch.einsum("ck,bkr->bcr", w["layout.w"], layout)[..., None])
    c = x.shape[1]
    for i, d in enumerate(models.DILATIONS):
        x = F.relu(x + F.conv2d(x, w[f"res{i + 1}.w"], w[f"res{i + 1}.b"], padding=(1, d), dilation=(1, d)))
        if i == 1:
            x = F.relu(x + F.conv2d(x, w["dwf.w"][:, None, :, None], w["dwf.b"], padding=(12, 0), groups=c))
        if i == 2:
            x = F.relu(x + F.conv2d(x, w["dwt.w"][:, None, None, :], w["dwt.b"], padding=(0, 7), groups=c))
            x = F.relu(x + context(w, x))
    far = F.conv2d(x, w["dwl.w"][:, None, None, :], w["dwl.b"], padding=(0, 7 * models.FAR), dilation=(1, models.FAR), groups=c)
    x = F.relu(x + far)
    x = F.relu(x + F.conv2d(x, w["res5.w"], w["res5.b"], padding=1))
    x = F.relu(x + F.conv2d(x, w["dwg.w"][:, None, :, None], w["dwg.b"], padding=(12, 0), groups=c))
    x = F.relu(x + F.conv2d(x, w["res6.w"], w["res6.b"], padding=1))
    row = torch.einsum("oc,bcrt->bort", w["row.w"], x) + w["row.b"][None, :, None, None]
    g = F.relu(torch.einsum("oc,bcrt->brot", w["g1.w"], x) + w["g1.b"][None, None, :, None])
    g = F.relu(F.conv1d(g.flatten(1, 2), w["g2.w"], w["g2.b"], padding=1))
    g = torch.einsum("oc,bct->bot", w["g3.w"], g) + w["g3.b"][None, :, None]
    b, t = x.shape[0], x.shape[3]
    g = g.reshape(b, s, models.PER_FRAME, t)
    row = row.reshape(b, s, 2, models.ROWS, t) + g[:, :, models.GLOBALS:].reshape(b, s, 2, models.ROWS, t)
    return (row.permute(0, 3, 4, 1, 2).reshape(b, models.ROWS, t * s, 2),
            g[:, :, :models.GLOBALS].permute(0, 3, 1, 2).reshape(b, t * s, models.GLOBALS))
