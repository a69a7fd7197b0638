"""What happens to the sound between the reeds and the file, on batches [B][n].

Hand wah, amplifier and small speaker, echo and room on the harp; a band under
it; then the recording: narrow band, saturation, wow, clicks, coding noise,
gates, hiss, hum, clipping and level. None of it moves a start or an end by more
than 2 ms, so the labels of the dry sound hold; only `silence` takes sound away,
and its labels.
"""
import math

import torch

RATE = 22050
IR = 131072  # samples of a room's response, 5.9 s

# chances of each effect in training, and the ranges that held-out tests fix
TRAINING = dict(wah=0.25, amp=0.4, room=0.62, band=0.6, compress=0.2, record=0.25, coding=0.3, clip=0.08,
                harp_db=(-5.0, 30.0), t60=(0.1, 4.0), wet_db=(-30.0, 1.0), snr_db=(20.0, 75.0), level_db=(-40.0, 0.0))
# beside these, as recordings of people come: hands that close and open over whole passages, sum and difference
# tones as loud as the reeds, echoes under the next note, gates, no lows, a telephone's band, hum and clicks
PEOPLE = dict(TRAINING, amp=0.5, hands=0.12, mixing=0.1, echo=0.1, gate=0.08, lows=0.12, phone=0.1, hum=0.25, clicks=0.12)
TRAINED = (TRAINING, PEOPLE)
QUIET = dict(TRAINING, wah=0, amp=0, room=0, band=0, compress=0, record=0, coding=0, clip=0, snr_db=(45, 70), level_db=(-20, -1))
CONDITIONS = {
    "solo": QUIET,
    "room": dict(QUIET, room=1, t60=(0.8, 4.0), wet_db=(-12, 0)),
    "amp": dict(QUIET, wah=0.5, amp=1, room=0.5, wet_db=(-20, -8)),
    "band": dict(QUIET, room=0.5, band=1, wet_db=(-20, -8), harp_db=(0, 6)),
    "record": dict(QUIET, room=0.5, band=1, record=1, wet_db=(-20, -8), harp_db=(2, 6), snr_db=(22, 40)),
}
# performances as people play, and recorded sound with and without them
PLAYED = {
    "people": dict(QUIET, wah=0.2, amp=0.3, room=0.6, wet_db=(-20, -6), hands=0.1, mixing=0.15, gate=0.1, lows=0.15),
    "people in a recorded band": dict(QUIET, amp=0.3, room=0.5, band=1, wet_db=(-20, -8), harp_db=(0, 6), phone=0.2),
}
NONE = {"recorded, no harp": dict(QUIET, band=1, harp_db=(0, 6), phone=0.5)}


def rms(x):
    return x.pow(2).mean(-1, keepdim=True).sqrt() + 1e-6


def gain(db):
    return 10 ** (db / 20)


def smooth(k):
    """Whether k has no prime factor above 7."""
    for p in (2, 3, 5, 7):
        while k % p == 0:
            k //= p
    return k == 1


def unframe(s, window, hop, n):
    """Inverse of torch.stft with center: least squares overlap-add (Griffin & Lim 1984), n
    samples. torch.istft does the same but waits for the device."""
    size = len(window)
    length = (s.shape[2] - 1) * hop + size
    add = lambda y: torch.nn.functional.fold(y, (1, length), (1, size), stride=(1, hop))[:, 0, 0]
    frames = torch.fft.irfft(s, size, dim=1) * window[:, None]
    weight = add((window ** 2)[None, :, None].expand(1, size, s.shape[2]))
    y = (add(frames) / weight.clamp(min=1e-6))[:, size // 2:size // 2 + n]
    return torch.nn.functional.pad(y, (0, n - y.shape[1]))


class Studio:
    """Effects with their own random numbers on one device."""

    def __init__(self, device, seed):
        self.device = device
        self.random = torch.Generator(device=device)
        self.random.manual_seed(seed)

    def uniform(self, shape, low, high):
        return low + (high - low) * torch.rand(shape, device=self.device, generator=self.random)

    def log_uniform(self, shape, low, high):
        return torch.exp(self.uniform(shape, math.log(low), math.log(high)))

    def normal(self, shape):
        return torch.randn(shape, device=self.device, generator=self.random)

    def some(self, b, chance):
        """Indices of a share of the batch, chosen at random."""
        return self.shuffled(b)[:int(round(b * chance))]

    def shuffled(self, n):
        return torch.rand(n, device=self.device, generator=self.random).argsort()

    def curve(self, b, n, points, low, high):
        """Smooth random curves [b][n] between low and high."""
        knots = self.uniform((b, 1, points), low, high)
        return torch.nn.functional.interpolate(knots, size=n, mode="linear", align_corners=True)[:, 0]

    def frequencies(self, n):
        return torch.arange(n // 2 + 1, device=self.device) * (RATE / n)

    def filter(self, x, db, floor=-60.0):
        """Apply gains in dB [B][n/2+1] over frequency, zero phase, n = padded length."""
        n = (db.shape[1] - 1) * 2
        return torch.fft.irfft(torch.fft.rfft(x, n) * gain(db.clamp(min=floor)), n)[:, :x.shape[1]]

    def padded(self, n):
        """A good FFT length, of small prime factors, with a quarter second of room."""
        k = math.ceil((n + RATE // 4) / 2048)
        while not smooth(k):
            k += 1
        return 2048 * k

    def tilt(self, b, n, depth):
        """Random smooth equalisation in dB over log frequency, 8 knots from 60 Hz to half the rate."""
        f = self.frequencies(n).clamp(min=60)
        place = torch.log(f / 60) / math.log(RATE / 2 / 60) * 7
        low = place.floor().clamp(max=6).long()
        part = place - low
        knots = self.normal((b, 8)) * depth
        return knots[:, low] * (1 - part) + knots[:, low + 1] * part

    def band_pass(self, b, n, low, high, order=2.0):
        """Response in dB of a band-pass with corners low, high [b][1] in Hz."""
        f = self.frequencies(n).clamp(min=1)
        return -10 * order * (torch.log10(1 + (low / f) ** 2) + torch.log10(1 + (f / high) ** 2))

    # the harp's way

    def wah(self, x):
        b, n = x.shape
        window = torch.hann_window(1024, device=self.device)
        s = torch.stft(x, 1024, 256, window=window, center=True, return_complex=True)
        f = (torch.arange(513, device=self.device) * (RATE / 1024)).clamp(min=10)[None, :, None]
        frames = s.shape[2]
        t = torch.arange(frames, device=self.device) * (256 / RATE)
        swing = torch.sin(2 * math.pi * self.uniform((b, 1), 0.4, 7) * t + self.uniform((b, 1), 0, 6.28))
        mixed = self.uniform((b, 1), 0, 1)
        slow = self.curve(b, frames, 12, -1, 1)
        place = mixed * swing + (1 - mixed) * slow
        centre = self.log_uniform((b, 1), 500, 2500) * torch.exp(place * self.uniform((b, 1), 0.2, 1.2))
        ratio = f / centre[:, None, :]
        low = 1 / torch.sqrt(1 + ratio ** 4)
        peak = 1 / torch.sqrt(1 + (self.uniform((b, 1, 1), 0.6, 3) * (ratio - 1 / ratio)) ** 2)
        kind = self.uniform((b, 1, 1), 0, 1)
        floor = self.uniform((b, 1, 1), 0.03, 0.5)
        level = 1 + place[:, None, :] * self.uniform((b, 1, 1), 0, 0.4)
        s = s * (floor + (1 - floor) * (kind * low + (1 - kind) * peak)) * level
        return unframe(s, window, 256, n)

    def hands(self, x):
        """Hands that close and open over whole passages: a steep low-pass that moves between 250 and 4000 Hz, with a
        resonance under its corner, and the loudness with it."""
        b, n = x.shape
        window = torch.hann_window(1024, device=self.device)
        s = torch.stft(x, 1024, 256, window=window, center=True, return_complex=True)
        f = (torch.arange(513, device=self.device) * (RATE / 1024)).clamp(min=10)[None, :, None]
        frames = s.shape[2]
        t = torch.arange(frames, device=self.device) * (256 / RATE)
        swing = torch.sin(2 * math.pi * self.uniform((b, 1), 0.3, 5) * t + self.uniform((b, 1), 0, 6.28))
        mixed = self.uniform((b, 1), 0, 1)
        place = (0.5 + 0.5 * (mixed * swing + (1 - mixed) * self.curve(b, frames, 14, -1.5, 1.5))).clamp(0, 1)
        closed, opened = self.log_uniform((b, 1), 250, 900), self.log_uniform((b, 1), 1500, 5000)
        corner = (closed * (opened / closed) ** place)[:, None, :]
        ratio = f / corner
        response = 1 / torch.sqrt(1 + ratio ** 6) * (1 + self.uniform((b, 1, 1), 0, 2) / (1 + (4 * torch.log2(ratio / 0.8)) ** 2))
        level = gain(-self.uniform((b, 1, 1), 0, 10) * (1 - place[:, None, :]))
        return unframe(s * response.clamp(min=0.01) * level, window, 256, n)

    def mixing(self, x):
        """Sum and difference tones of whatever sounds together: the square of the sound, up to as loud as itself."""
        b, n = x.shape
        level = rms(x)
        y = x / level
        loud = torch.nn.functional.avg_pool1d(y[:, None] ** 2, 2048, 256, 1024, count_include_pad=False)
        loud = torch.nn.functional.interpolate(loud, size=n, mode="linear", align_corners=True)[:, 0]
        square = y ** 2 / (loud + 1e-3).sqrt()  # as strong beside soft notes as beside loud ones
        size = self.padded(n)
        square = self.filter(square, self.band_pass(b, size, self.log_uniform((b, 1), 80, 250),
                                                    self.log_uniform((b, 1), 1200, 6000), 2.0))
        return (y + square / rms(square) * gain(self.uniform((b, 1), -16, 1))) * level

    def echo(self, x):
        """One to three repeats, 0.1 to 0.5 s apart, that stand under the next note."""
        b, n = x.shape
        most = int(0.5 * RATE)
        late = torch.nn.functional.pad(x, (3 * most, 0))
        at = torch.arange(n, device=self.device)
        delay = (self.uniform((b, 1), 0.1, 0.5) * RATE).long()
        feed = gain(-self.uniform((b, 1), 7, 20))
        y = x
        for k in (1, 2, 3):
            y = y + feed ** k * torch.gather(late, 1, 3 * most + at - k * delay)
        return y

    def gate(self, x):
        """A noise gate in bands: what lies under a threshold in a band is gone, with its attack and release."""
        b, n = x.shape
        window = torch.hann_window(1024, device=self.device)
        s = torch.stft(x, 1024, 256, window=window, return_complex=True)
        power = s.real ** 2 + s.imag ** 2
        near = torch.nn.functional.avg_pool2d(power[:, None], (5, 5), 1, (2, 2))[:, 0]
        f = torch.arange(513, device=self.device)[None, :, None] * (RATE / 1024)
        usual = near.mean((1, 2), keepdim=True)
        low = self.uniform((b, 1, 1), 0, 18) * (f < self.log_uniform((b, 1, 1), 250, 900))  # the lows are gated harder
        bar = usual * 10 ** ((self.uniform((b, 1, 1), -22, -2) + low) / 10)
        return unframe(s * (1 / (1 + (bar / (near + 1e-12)) ** 2)).clamp(min=0.01), window, 256, n)

    def lows(self, x):
        """Everything under 150 to 450 Hz filtered away."""
        b, n = x.shape
        size = self.padded(n)
        return self.filter(x, self.band_pass(b, size, self.log_uniform((b, 1), 150, 450),
                                             torch.full((b, 1), 20000.0, device=self.device), 4.0))

    def phone(self, x):
        """A telephone's band, its 8-bit steps and some hiss."""
        b, n = x.shape
        size = self.padded(n)
        y = self.filter(x, self.band_pass(b, size, self.uniform((b, 1), 200, 400), self.uniform((b, 1), 2800, 3900), 6.0))
        top = y.abs().amax(1, keepdim=True) + 1e-9
        code = torch.log1p(255 * (y / top).abs()) / math.log(256)
        code = torch.round(code * 127) / 127
        return torch.sign(y) * (256 ** code - 1) / 255 * top

    def clicks(self, x):
        b, n = x.shape
        at = torch.randint(0, n - 40, (b, 12), device=self.device, generator=self.random)
        often = (self.uniform((b, 12), 0, 1) < self.uniform((b, 1), 0, 0.7)).float()
        size = often * self.normal((b, 12)) * x.abs().amax(1, keepdim=True) * gain(self.uniform((b, 1), -20, 0))
        y = x.clone()
        for k, part in ((0, 1.0), (1, -0.8), (2, 0.5), (5, -0.3), (9, 0.2)):
            y.scatter_add_(1, at + k, size * part)
        return y

    def silence(self, x, rows, whole, chance=0.12):
        """Digital silence at the beginning, at times at the end: no labels there, and what sounds where it ends begins
        there. x [B][n], rows [B][T][40] and whole [B][T][3] as render.label writes them; returns all three."""
        b, frames = whole.shape[:2]
        hop = x.shape[1] // frames
        first = (self.uniform((b, 1), 0.0, 1.2) * RATE / hop).long() * (self.uniform((b, 1), 0, 1) < chance)
        last = frames - (self.uniform((b, 1), 0.1, 2.0) * RATE / hop).long() * (self.uniform((b, 1), 0, 1) < chance / 3)
        at = torch.arange(frames, device=self.device)[None]
        heard = (at >= first) & (at < last)
        starts = ((at == first) & (first > 0))
        rows = torch.where(heard[..., None], rows | ((rows & 1) << 1) * starts[..., None].to(rows.dtype), torch.zeros_like(rows))
        event = torch.maximum(whole[..., 2], (starts & (whole[..., 0] > 0)).to(whole.dtype))
        whole = torch.where(heard[..., None], torch.cat([whole[..., :2], event[..., None]], 2), torch.zeros_like(whole))
        # frame t is centred on sample t*hop
        t = torch.arange(x.shape[1], device=self.device)[None]
        return x * ((t >= first * hop) & (t < last * hop)), rows, whole

    def amplifier(self, x):
        b, n = x.shape
        size = self.padded(n)
        level = rms(x)
        spectrum = torch.fft.rfft(x / level, size)
        wide = torch.fft.irfft(spectrum, 2 * size) * 2  # twice the rate, against aliasing
        drive = gain(self.uniform((b, 1), -12, 30))
        bias = self.uniform((b, 1), 0, 0.5)
        hard = self.uniform((b, 1), 0, 1)
        y = drive * wide + bias
        y = (1 - hard) * torch.tanh(y) + hard * y.clamp(-0.8, 1.0)
        y = y - y.mean(1, keepdim=True)
        db = self.band_pass(b, size, self.log_uniform((b, 1), 70, 300), self.log_uniform((b, 1), 2500, 6500), 2.5)
        f = self.frequencies(size).clamp(min=20)
        for _ in range(3):
            centre, q = self.log_uniform((b, 1), 200, 4000), self.uniform((b, 1), 1.5, 7)
            db = db + self.uniform((b, 1), -8, 9) / (1 + (q * torch.log2(f / centre)) ** 2)
        y = torch.fft.rfft(y)[:, :size // 2 + 1] / 2 * gain(db)
        y = torch.fft.irfft(y, size)[:, :n]
        return y / rms(y) * level

    def room(self, x, t60, wet_db):
        b, n = x.shape
        size = 311040 if n + IR <= 311040 else self.padded(n + IR)
        t = torch.arange(IR, device=self.device) / RATE
        # half of the rooms are halls, and half of them far from the player
        halls, far = self.uniform((b, 1), 0, 1) < 0.5, self.uniform((b, 1), 0, 1) < 0.5
        t60 = torch.where(halls, self.uniform((b, 1), t60[0] + 0.2 * (t60[1] - t60[0]), t60[1]), self.log_uniform((b, 1), *t60))
        wet_db = torch.where(far, self.uniform((b, 1), 0.5 * (wet_db[0] + wet_db[1]), wet_db[1]), self.uniform((b, 1), *wet_db))
        f = self.frequencies(IR)
        edges = [0, 500, 1500, 4000, 1e9]
        noise = torch.fft.rfft(self.normal((b, IR)))
        shorter = self.uniform((b, 1), 0.25, 1.0)  # decay time of the top band over that of the bottom
        response = torch.zeros((b, IR), device=self.device)
        for k in range(4):
            inside = (f >= edges[k]) & (f < edges[k + 1])
            part = torch.fft.irfft(noise * inside, IR)
            decay = t60 * (1 - (1 - shorter) * k / 3)
            response = response + part * gain(self.uniform((b, 1), -3, 3)) * torch.exp(-6.91 * t / decay)
        response = response / response.pow(2).sum(1, keepdim=True).sqrt()
        response = response * (1 - torch.exp(-t / self.log_uniform((b, 1), 0.0005, 0.03)))
        early = torch.zeros((b, IR), device=self.device)
        taps = (self.uniform((b, 8), 0.003, 0.08) * RATE).long()
        early.scatter_add_(1, taps, self.normal((b, 8)) * 0.35 * torch.exp(-taps / RATE / 0.05))
        response = response + early * self.uniform((b, 1), 0, 1)
        echo = torch.zeros((b, IR), device=self.device)
        delay = self.uniform((b, 1), 0.07, 0.45)
        repeats = torch.arange(1, 9, device=self.device)
        feedback = self.uniform((b, 1), 0.1, 0.6)
        on = (self.uniform((b, 1), 0, 1) < 0.3).float()
        echo.scatter_add_(1, (delay * repeats * RATE).long(), on * 0.8 * feedback ** repeats)
        predelay = (self.uniform((b,), 0, 0.04) * RATE).long()
        index = (torch.arange(IR, device=self.device)[None] - predelay[:, None])
        response = torch.gather(response, 1, index.clamp(min=0)) * (index >= 0)
        wet = torch.fft.irfft(torch.fft.rfft(x, size) * torch.fft.rfft(response + echo, size), size)[:, :n]
        return x + wet / rms(wet) * rms(x) * gain(wet_db)

    # the recording

    def warp(self, x, start, speed):
        """Read x [B][m] at start + cumulative speed [B][n] by cubic interpolation."""
        place = start + torch.cumsum(speed.double(), 1) - speed[:, :1]
        place = place.clamp(1, x.shape[1] - 3)
        i = place.floor().long()
        t = (place - i).float()
        a, b, c, d = (torch.gather(x, 1, i + k) for k in (-1, 0, 1, 2))
        return b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))

    def coloured(self, b, n):
        """Noise of unit level between white and pink."""
        size = self.padded(n)
        f = self.frequencies(size).clamp(min=30)
        y = torch.fft.irfft(torch.fft.rfft(self.normal((b, size))) * (f / 1000) ** (-0.5 * self.uniform((b, 1), 0, 1.3)), size)
        return (y / rms(y))[:, :n]

    def record(self, x):
        b, n = x.shape
        level = rms(x)
        size = self.padded(n)
        db = self.band_pass(b, size, self.log_uniform((b, 1), 50, 400), self.log_uniform((b, 1), 2600, 8000), 2.0)
        db = db + self.tilt(b, size, 3.0)
        y = self.filter(x / level, db)
        drive = gain(self.uniform((b, 1), -20, 3))
        y = torch.tanh(drive * y) / drive
        t = torch.arange(n, device=self.device) / RATE
        wow = self.uniform((b, 1), 0, 0.004) * torch.sin(2 * math.pi * self.uniform((b, 1), 0.5, 1.5) * t + self.uniform((b, 1), 0, 6))
        flutter = self.uniform((b, 1), 0, 0.0015) * torch.sin(2 * math.pi * self.uniform((b, 1), 5, 12) * t)
        y = self.warp(y, torch.zeros((b, 1), device=self.device), 1 + wow + flutter)
        y = y + rms(y) * self.coloured(b, n) * gain(-self.uniform((b, 1), 18, 45))
        clicks = torch.zeros((b, n), device=self.device)
        at = torch.randint(0, n, (b, 60), device=self.device, generator=self.random)
        often = (self.uniform((b, 60), 0, 1) < self.uniform((b, 1), 0, 1)).float()
        clicks.scatter_add_(1, at, self.normal((b, 60)) * often * gain(self.uniform((b, 1), -10, 12)))
        clicks = self.filter(clicks, -10 * torch.log10(1 + (self.frequencies(size) / self.log_uniform((b, 1), 1500, 9000)) ** 2))
        return (y + clicks * rms(y)) * level

    def coding(self, x):
        """Like a lossy coder: noise under each band's own power, weak bins dropped, low-pass."""
        b, n = x.shape
        window = torch.hann_window(1024, device=self.device)
        s = torch.stft(x, 1024, 512, window=window, return_complex=True)
        power = s.real ** 2 + s.imag ** 2
        near = torch.nn.functional.avg_pool2d(power[:, None], (9, 1), 1, (4, 0))[:, 0]
        noise = torch.complex(self.normal(s.shape), self.normal(s.shape)) * 0.7
        s = s + noise * near.sqrt() * gain(-self.uniform((b, 1, 1), 9, 30))
        drop = power < near * self.uniform((b, 1, 1), 0, 0.05)
        f = (torch.arange(513, device=self.device) * (RATE / 1024))[None, :, None]
        cut = self.uniform((b, 1, 1), 5000, 14000)
        s = torch.where(drop | (f > cut), torch.zeros_like(s), s)
        return unframe(s, window, 512, n)

    def compressor(self, x):
        """Evens out loudness over some 50 ms."""
        b, n = x.shape
        level = rms(x)
        power = torch.nn.functional.avg_pool1d(x[:, None] ** 2, 1024, 128, 512, count_include_pad=False)
        strength = self.uniform((b, 1), 0.1, 0.35)  # of the power, so twice that of the amplitude
        slow = (power[:, 0] + level ** 2 * gain(self.uniform((b, 1), -60, -20))) ** -strength
        y = x * torch.nn.functional.interpolate(slow[:, None], size=n, mode="linear", align_corners=True)[:, 0]
        return y / rms(y) * level

    def last(self, x, snr_db, level_db, often=0.15):
        """Noise, hum (to a share of `often`), offset and level for all."""
        b, n = x.shape
        loud = rms(x)
        quiet = (loud < 1e-4).float()
        y = x + self.coloured(b, n) * (loud * gain(-self.uniform((b, 1), *snr_db)) + quiet * 1e-3)
        t = torch.arange(n, device=self.device) / RATE
        hum = torch.zeros_like(x)
        mains = 50 + 10 * (self.uniform((b, 1), 0, 1) < 0.5).float()
        for k in (1, 2, 3, 5):
            hum = hum + self.uniform((b, 1), 0, 1) * torch.sin(2 * math.pi * k * mains * t)
        on = (self.uniform((b, 1), 0, 1) < often).float()
        y = y + on * hum * loud * gain(-self.uniform((b, 1), 20 - 100 * (often - 0.15), 50))
        y = y / (y.abs().amax(1, keepdim=True) + 1e-6) * gain(self.uniform((b, 1), *level_db))
        return y + (self.uniform((b, 1), 0, 1) < 0.1).float() * self.uniform((b, 1), -0.02, 0.02)

    def produce(self, harp, band, ratio, active, p, recorded=None, none=0):
        """Harp [B][n], band [B][m] (m some longer, read at speed ratio [B][1]), active [B][n/hop]
        (1 where the harp sounds) to finished recordings, with the settings p. recorded [B][1] is 1
        where the band was recorded, not made; the first `none` of the batch have no harp but a band."""
        b, n = harp.shape
        x = harp.clone()
        training = p in TRAINED
        wet = self.some(b, 0.75 if training else 1.0)  # the others stay dry
        for name, effect in (("hands", self.hands), ("wah", self.wah), ("mixing", self.mixing), ("amp", self.amplifier),
                             ("echo", self.echo), ("room", lambda y: self.room(y, p["t60"], p["wet_db"]))):
            count = int(round(b * p.get(name, 0)))
            if count:
                chosen = wet[self.shuffled(len(wet))[:count]]
                x[chosen] = effect(x[chosen])
        chosen = none + self.shuffled(b - none)[:max(0, int(round(b * p["band"])) - none)]
        chosen = torch.cat([torch.arange(none, device=self.device), chosen])
        if len(chosen):
            x[chosen] = self.accompany(x[chosen], band[chosen], ratio[chosen], active[chosen], p,
                                       None if recorded is None else recorded[chosen])
        for name, effect in (("compress", self.compressor), ("record", self.record), ("gate", self.gate), ("coding", self.coding),
                             ("lows", self.lows), ("clicks", self.clicks)):
            if name not in p:
                continue
            chosen = self.some(b, p[name])
            if len(chosen):
                x[chosen] = effect(x[chosen])
        # telephones: half of what has no harp, and some of the others, so that the band tells nothing
        if "phone" in p:
            chosen = none + self.shuffled(b - none)[:int(round((b - none) * p["phone"]))]
            chosen = torch.cat([torch.arange((none + 1) // 2, device=self.device), chosen])
            if len(chosen):
                x[chosen] = self.phone(x[chosen])
        chosen = self.some(b, p["clip"])
        if len(chosen):
            y = x[chosen]
            top = y.abs().amax(1, keepdim=True) * gain(-self.uniform((len(chosen), 1), 0, 9))
            x[chosen] = torch.maximum(torch.minimum(y, top), -top)
        return self.last(x, p["snr_db"], p["level_db"], p.get("hum", 0.15))

    def accompany(self, x, band, ratio, active, p, recorded):
        """Harps [k][n] with their bands, coloured and as loud as p wants."""
        k, n = x.shape
        training = p in TRAINED
        part = self.warp(band, torch.ones((k, 1), device=self.device), ratio.expand(k, n))
        tilt = self.tilt(k, self.padded(n), 3.0)
        part = self.filter(part, tilt if recorded is None else tilt * (1 + recorded))
        share = active.mean(1, keepdim=True).clamp(min=0.05)
        loud = rms(x) / share.sqrt()
        loud = torch.where(loud < 1e-4, torch.full_like(loud, 0.1), loud)
        low, high = p["harp_db"]
        middle = min(high, 10.0)
        loud_to = min(high, 4.0) if training else middle  # a third of the bands are about as loud as the harp
        kind = self.uniform((k, 1), 0, 1)
        top = loud_to + (middle - loud_to) * (kind >= 0.35) + (high - middle) * (kind >= 0.8)
        db = low + self.uniform((k, 1), 0, 1) * (top - low)
        part = part / rms(part) * loud * gain(-db)
        mixed = x + part
        both = self.some(k, 0.3 if training else 0)  # one room for all
        if len(both):
            mixed[both] = self.room(mixed[both], (0.2, 2.0), (-25.0, -8.0))
        return mixed
