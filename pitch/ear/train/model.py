"""The ear: a small convolutional network over (harp-aligned frequency, time).

In: features [batch][16][120][T] (T even) and layout features [batch][5][40].
Out: row logits [batch][40][T][2] (sounding, attack) and global logits
[batch][T][8] (breath none, blow, draw; reeds 0, 1, 2, 3 or more; event attack).
"""
import torch
from torch import nn
import torch.nn.functional as F

ROWS = 40
GLOBALS = 8
DILATIONS = (1, 1, 2, 4)
PER_FRAME = GLOBALS + 2 * ROWS


FAR = 8  # dilation of the second kernel along time
KEPT = 32  # channels of the context
SPAN = 172  # steps that the context reaches to either side, 4 s at stride 2


def band_matrix(weight, n, dilation=1):
    """Depth-wise kernel [C][K] (K odd) as matrices [C][n][n] that act on n points."""
    if dilation > 1:
        c, k = weight.shape
        weight = F.pad(weight.unsqueeze(2), (0, dilation - 1)).reshape(c, k * dilation)[:, :(k - 1) * dilation + 1]
    c, k = weight.shape
    wide = F.pad(weight, (0, n)).unsqueeze(1).expand(c, n, n + k).reshape(c, -1)
    return wide[:, :n * (n + k - 1)].reshape(c, n, n + k - 1)[:, :, k // 2:k // 2 + n]


class Context(nn.Module):
    """How the harp sounds around a moment: means over SPAN steps to either side of KEPT
    channels, weighed by a gate (0 to 1), of each row and of all rows together, so that a
    reed's partials can be held against those of the same and other reeds nearby. Adds to x."""

    def __init__(self, c):
        super().__init__()
        self.keep = nn.Conv2d(c, KEPT, 1)
        self.gate = nn.Conv2d(c, 1, 1)
        self.back = nn.Conv2d(2 * KEPT, c, 1)
        nn.init.zeros_(self.back.weight)  # begins as if it were not there
        nn.init.zeros_(self.back.bias)

    def forward(self, x):
        gate = torch.sigmoid(self.gate(x)).float()
        kept = torch.cat([F.relu(self.keep(x)).float() * gate, gate], 1)
        near = around(kept)
        whole = near.sum(2, keepdim=True).expand_as(near)
        means = [m[:, :KEPT] / (m[:, KEPT:] + 1) for m in (near, whole)]
        return x + self.back(torch.cat(means, 1).to(x.dtype))


def around(x):
    """Sums over SPAN steps to either side, zeros outside."""
    total = F.pad(x.cumsum(-1), (SPAN + 1, SPAN), mode="constant")
    total[..., SPAN + 1 + x.shape[-1]:] = total[..., SPAN + x.shape[-1]:SPAN + 1 + x.shape[-1]]
    return total[..., 2 * SPAN + 1:] - total[..., :-2 * SPAN - 1]


class Ear(nn.Module):
    def __init__(self, c=48, stride=2):
        super().__init__()
        self.c, self.stride = c, stride
        self.context = Context(c)
        self.conv1 = nn.Conv2d(16, c, (7, 4 if stride == 2 else 3), stride=(3, stride), padding=(2, 1))
        self.embed = nn.Parameter(torch.zeros(c, ROWS))
        self.layout = nn.Linear(5, c, bias=False)
        self.norm1 = nn.BatchNorm2d(c)
        self.res = nn.ModuleList(nn.Conv2d(c, c, 3, padding=(1, d), dilation=(1, d), bias=False) for d in DILATIONS)
        self.norms = nn.ModuleList(nn.BatchNorm2d(c) for _ in DILATIONS)
        self.dwf = nn.Parameter(torch.randn(c, 25) * 0.05)
        self.normf = nn.BatchNorm2d(c)
        self.dwt = nn.Parameter(torch.randn(c, 15) * 0.05)
        self.normt = nn.BatchNorm2d(c)
        self.dwl = nn.Parameter(torch.randn(c, 15) * 0.05)
        self.norml = nn.BatchNorm2d(c)
        self.res5 = nn.Conv2d(c, c, 3, padding=1, bias=False)
        self.norm5 = nn.BatchNorm2d(c)
        self.dwg = nn.Parameter(torch.randn(c, 25) * 0.05)
        self.normg = nn.BatchNorm2d(c)
        self.res6 = nn.Conv2d(c, c, 3, padding=1, bias=False)
        self.norm6 = nn.BatchNorm2d(c)
        for norm in (self.norml, self.norm5, self.normg, self.norm6):
            nn.init.zeros_(norm.weight)  # begins as if it were not there
        self.row = nn.Conv2d(c, 2 * stride, 1)
        self.g1 = nn.Conv2d(c, 12, 1)
        self.g2 = nn.Conv1d(12 * ROWS, 128, 3, padding=1)
        self.g3 = nn.Conv1d(128, stride * PER_FRAME, 1)
        nn.init.zeros_(self.g3.weight)
        with torch.no_grad():
            self.row.bias.fill_(-4.0)
            self.g3.bias.zero_()

    def forward(self, x, layout):
        x = self.conv1(x)
        x = x + self.embed[None, :, :, None] + self.layout(layout.transpose(1, 2)).transpose(1, 2)[..., None]
        x = F.relu(self.norm1(x))
        for i in range(len(DILATIONS)):
            x = F.relu(x + self.norms[i](self.res[i](x)))
            if i == 1:
                along = torch.einsum("cgf,bcft->bcgt", band_matrix(self.dwf, ROWS), x)
                x = F.relu(x + self.normf(along))
            if i == 2:
                along = torch.einsum("cut,bcft->bcfu", band_matrix(self.dwt, x.shape[3]), x)
                x = F.relu(x + self.normt(along))
                x = F.relu(self.context(x))
        far = torch.einsum("cut,bcft->bcfu", band_matrix(self.dwl, x.shape[3], FAR), x)
        x = F.relu(x + self.norml(far))
        x = F.relu(x + self.norm5(self.res5(x)))
        along = torch.einsum("cgf,bcft->bcgt", band_matrix(self.dwg, ROWS), x)
        x = F.relu(x + self.normg(along))
        x = F.relu(x + self.norm6(self.res6(x)))
        return self.heads(x)

    def heads(self, x):
        b, _, _, t = x.shape
        s = self.stride
        row = self.row(x).float().reshape(b, s, 2, ROWS, t)  # [b][sub][2][row][t]
        g = F.relu(self.g1(x)).permute(0, 2, 1, 3).reshape(b, ROWS * 12, t)
        g = self.g3(F.relu(self.g2(g))).float().reshape(b, s, PER_FRAME, t)
        row = row + g[:, :, GLOBALS:].reshape(b, s, 2, ROWS, t)
        row = row.permute(0, 3, 4, 1, 2).reshape(b, ROWS, t * s, 2)
        whole = g[:, :, :GLOBALS].permute(0, 3, 1, 2).reshape(b, t * s, GLOBALS)
        return row, whole


def from_text(text):
    """Build from 'c=48,stride=2'."""
    options = dict(pair.split("=") for pair in text.split(","))
    return Ear(**{k: int(v) for k, v in options.items()})
