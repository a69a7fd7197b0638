"""The ear's input: band powers on an axis aligned to the harp.

Rate 22,050 Hz, hop 256 samples, frame t centred on sample 256*t, zeros outside
the recording. Periodic Hann windows of 4096 and of 1024 samples, FFT of the
window's size, P_k = 4|X_k|^2 / (sum of the window)^2: a full-scale sine peaks
at 1. Bin k covers [k-1/2, k+1/2] bins and its power is spread evenly over it.

Channel (window, h), h = 1/2, 1, 2 ... 7, windows in the order given; bin 3r+b of
row r = 0..39, b = 0..2: centre f = base * 2^((r-1)/12 + (b-1)/36) * h, half
width d = max(f*(2^(1/72)-1), half an FFT bin), P the power in [f-d, f+d], and
0 where f+d lies above half the rate. Value: (log10(P + 1e-9) + 9) / 4; silence
is 0. Shape [16][120][frames].
"""
import torch

RATE, HOP = 22050, 256
WINDOWS = (4096, 1024)
HARMONICS = (0.5, 1, 2, 3, 4, 5, 6, 7)
ROWS, BINS = 40, 120


def band_weights(base_hz, window):
    """Share of each FFT bin in each band: [batch][8*120][window/2+1], float32."""
    device = base_hz.device
    place = torch.arange(BINS, device=device, dtype=torch.float64)
    step = 2 ** ((torch.div(place, 3, rounding_mode="floor") - 1) / 12 + (place % 3 - 1) / 36)
    h = torch.arange(len(HARMONICS), device=device, dtype=torch.float64).clamp(min=HARMONICS[0])  # HARMONICS, made there
    f = base_hz.double()[:, None, None] * h[:, None] * step
    d = torch.clamp(f * (2 ** (1 / 72) - 1), min=0.5 * RATE / window)
    low, high = ((f - d) * window / RATE).flatten(1), ((f + d) * window / RATE).flatten(1)
    valid = ((f + d) <= RATE / 2).flatten(1)[:, :, None]
    bins = torch.arange(window // 2 + 1, device=device, dtype=torch.float32)
    low, high = low[:, :, None], high[:, :, None]
    share = torch.minimum(high.float(), bins + 0.5) - torch.maximum(low.float(), bins - 0.5)
    return share.clamp_(min=0) * valid


def powers(x, window, frames):
    """P of shape [batch][frames][window/2+1]."""
    hann = torch.hann_window(window, periodic=True, device=x.device)
    padded = torch.nn.functional.pad(x, (window // 2, window // 2 + HOP))
    pieces = padded.unfold(1, window, HOP)[:, :frames] * hann
    spectrum = torch.view_as_real(torch.fft.rfft(pieces))
    return spectrum.pow(2).sum(-1) * (4 / (window / 2) ** 2)  # a periodic Hann window sums to half its length


def features(x, base_hz, frames):
    """Samples [batch][n] and the frequency of hole 1 blow in Hz [batch] to [batch][16][120][frames]."""
    out = []
    for window in WINDOWS:
        p = powers(x, window, frames)
        band = torch.bmm(p, band_weights(base_hz, window).transpose(1, 2))
        out.append(band.reshape(len(x), frames, len(HARMONICS), BINS))
    value = (torch.log10(torch.cat(out, 2).clamp_(min=0) + 1e-9) + 9) / 4
    return value.permute(0, 2, 3, 1).contiguous()
