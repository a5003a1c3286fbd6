"""An independent simulator of passes over fish close to a flat bottom: the judge of `claims`, in plain numpy.

It shares no code with the package. It is written from published formulas and from the rules that the program states
(passes, detection, separation), as a stranger would write it: the echo is the direct sum over every scatterer and
frequency, the ground is drawn anew for each ping from the same relief, and the rules are plain loops. What it knows of
fish (highlights, posture) and of sediments are the numbers the program prints, most of which are assumed.

Sources: circular piston, Kinsler et al.; absorption, Francois & Garrison 1982; sound speed, Mackenzie 1981; strength of
fish, Love 1971; bottom, Jackson, Winebrenner & Ishimaru 1986 and APL-UW TR 9407; noise, Coates 1990 and Mellen 1952.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import gamma, j0, j1

#: Sediments: density ratio, speed ratio, loss, attenuation [dB/m/kHz], w2 [cm4], volume parameter, floor [dB] or None.
SEDIMENTS = {
    "rock": (2.5, 2.5, 0.01374, 0.1963, 0.01862, 0.002, -8.2),
    "gravel": (2.49227, 1.33696, 0.017054, 0.4556, 0.0129375, 0.002, -12.5),
    "medium sand": (1.84462, 1.17819, 0.016241, 0.49235, 0.00444582, 0.002, None),
    "fine sand": (1.45117, 1.10726, 0.016023, 0.51685, 0.00271459, 0.002, None),
    "silt": (1.19483, 1.01786, 0.021577, 0.757145, 0.000781112, 0.002, None),
    "mud": (1.14742, 0.984873, 0.0024173, 0.0877, 0.0005175, 0.001, None),
}
GAMMA2, SLOPES = 3.25, 3.0  # exponent of the relief's spectrum; natural slopes, rms [deg]
NODES = 12  # over the band
WEIGHTS, SPREAD, FISH_TILT = np.array([0.4, 0.3, 0.2, 0.1]), 0.07, (-4.4, 16.2)


@dataclass(frozen=True)
class Case:
    """A question: a disc [m] with its band [Hz], a fish [m] over a sediment at a depth [m], the boat's speed [kn]."""

    diameter: float
    band: tuple[float, float]
    depth: float
    sediment: str
    height: float
    length: float
    knots: float
    natural: bool = True
    power: float = 1000.0
    efficiency: float = 0.5
    temperature: float = 11.0
    salinity: float = 34.5


def sound_speed(t, s, d):
    """Return the speed of sound [m/s]: Mackenzie 1981."""
    return (
        1448.96 + 4.591 * t - 5.304e-2 * t**2 + 2.374e-4 * t**3 + 1.340 * (s - 35) + 1.630e-2 * d + 1.675e-7 * d**2
        - 1.025e-2 * t * (s - 35) - 7.139e-13 * t * d**3
    )  # fmt: skip


def absorption(f, t, s, d, ph=8.0):
    """Return the absorption [dB/m] at f [Hz]: Francois & Garrison 1982."""
    f, c, theta = f / 1e3, 1412 + 3.21 * t + 1.19 * s + 0.0167 * d, 273 + t
    boric, f1 = 8.86 / c * 10 ** (0.78 * ph - 5), 2.8 * np.sqrt(s / 35) * 10 ** (4 - 1245 / theta)
    magnesium, p2 = 21.44 * s / c * (1 + 0.025 * t), 1 - 1.37e-4 * d + 6.2e-9 * d**2
    f2 = 8.17 * 10 ** (8 - 1990 / theta) / (1 + 0.0018 * (s - 35))
    water = 4.937e-4 - 2.59e-5 * t + 9.11e-7 * t**2 - 1.50e-8 * t**3
    parts = boric * f1 * f**2 / (f1**2 + f**2) + magnesium * p2 * f2 * f**2 / (f2**2 + f**2)
    return (parts + water * (1 - 3.83e-5 * d + 4.9e-10 * d**2) * f**2) / 1e3


def bottom_law(sediment, f, c):
    """Return functions of the cosine of incidence: backscatter [1] of the surface, and of the sediment's inside."""
    r, nu, loss, _, w2, volume, floor = SEDIMENTS[sediment]
    a, k = GAMMA2 / 2 - 1, 2 * np.pi * f / c / 100
    structure = 2 * np.pi * w2 * gamma(2 - a) * 2 ** (-2 * a) / (a * (1 - a) * gamma(1 + a))
    q = structure * 2 ** (1 - 2 * a) * k ** (2 - 2 * a)
    angle = np.radians(np.linspace(0, 80, 161))
    mu, kappa = np.cos(angle), (1 + 1j * loss) / nu

    def through(cosine):
        return np.sqrt(kappa**2 - (1 - cosine**2))

    def reflected(cosine):
        return (r * cosine - through(cosine)) / (r * cosine + through(cosine))

    v = np.linspace(0, 1, 6001) ** 2 * (40 / (q * mu[-1] ** 2)) ** (1 / (2 * a))
    kirchhoff = np.array([
        np.trapezoid(np.exp(-(m**2) * q * v ** (2 * a)) * j0(np.sin(t) * v) * v, v) / (8 * np.pi * m**2)
        for m, t in zip(mu, angle, strict=True)
    ]) * abs(reflected(1.0)) ** 2  # fmt: skip
    fall = 10 * np.log10(np.maximum(kirchhoff, 1e-30) / kirchhoff[0])
    meet = np.sin(angle[np.argmax(fall < -15)]) if (fall < -15).any() else np.inf
    far = np.minimum(mu, np.cos(np.radians(15)))
    y = ((r - 1) ** 2 * (1 - far**2) + r**2 - kappa**2) / (r * far + through(far)) ** 2
    rough = 4 * k**4 * far**4 * abs(y) ** 2 * w2 * (2 * k * np.sqrt(1 - far**2)) ** -GAMMA2
    ramp = np.clip((np.degrees(angle) - 15) / 5, 0, 1)
    share = ramp**2 * (3 - 2 * ramp) / (1 + np.exp(np.clip(-80 * (np.sin(angle) - meet), -700, 700)))
    surface = (1 - share) * kirchhoff + share * rough + (0 if floor is None else 10 ** (floor / 10) * mu**2)
    p = through(mu)
    inside = 5 * loss * volume * abs(1 - reflected(mu) ** 2) ** 2 * mu**2 / (nu * np.log(10) * abs(p) ** 2 * p.imag)
    # The mean over natural slopes, Gaussian, alike in all directions.
    rng = np.random.default_rng(0)
    slope = np.tan(np.radians(SLOPES)) / np.sqrt(2) * rng.standard_normal((2, 4000))
    local = (mu[:, None] - np.sin(angle)[:, None] * slope[0]) / np.sqrt(1 + np.sum(slope**2, axis=0))
    local = np.arccos(np.clip(local, 0, 1))
    laws = [np.interp(local, angle, law).mean(axis=1) for law in (surface, inside)]
    return [lambda cosine, law=law: np.interp(np.arccos(np.clip(cosine, -1, 1)), angle, law) for law in laws]


class Fish:
    """How a fish's highlights echo at frequencies f [Hz] (n): Love 1971 at broadside, a spheroid 1:5 over tilt."""

    def __init__(self, length, f, c):
        self.f, self.turns = f, 4 * np.pi * SPREAD * length * f / c
        self.peak = 10 ** (0.1 * (19.1 * np.log10(100 * length) - 0.9 * np.log10(f / 1e3) - 62.0))
        z = np.linspace(-5, 5, 4001)
        sine, self.weight = np.sin(np.radians(FISH_TILT[0] + FISH_TILT[1] * z)), np.exp(-(z**2) / 2)
        self.weight /= self.weight.sum()
        wanted = np.sum(self.weight / (1 + 24 * sine**2) ** 2)
        self.ratio, self.gain = np.array([self._kept(turns, sine, wanted) for turns in self.turns]).T

    def _kept(self, turns, sine, wanted):
        """Return the axis ratio of each highlight, and its gain off broadside, that keep the mean over tilt."""
        step, squares = np.exp(-((turns * sine) ** 2)), np.sum(WEIGHTS**2)
        power = step + (1 - step) * squares

        def mean(ratio, gain):
            law = 1 / (1 + (ratio**2 - 1) * sine**2) ** 2
            return np.sum(self.weight * law * power * (step + (1 - step) * gain))

        if mean(2.0, 1.0) <= wanted:
            return 2.0, brentq(lambda gain: mean(2.0, gain) - wanted, 1.0, 1e4)
        return brentq(lambda ratio: mean(ratio, 1.0) - wanted, 2.0, 12.0), 1.0

    def amplitude(self, cosine):
        """Return the amplitude [m] (f) of a highlight of weight 1 seen at a cosine to the fish's long axis."""
        step = np.exp(-((self.turns * cosine) ** 2))
        law = 1 / (1 + (self.ratio**2 - 1) * cosine**2) ** 2
        return np.sqrt(self.peak * law * (step + (1 - step) * self.gain))


class Sounder:
    """The sounder of a case: pulse, filter, beam, noise, and the grid of frequencies of its records."""

    def __init__(self, case):
        self.case = case
        t, s = case.temperature, case.salinity
        self.c = sound_speed(t, s, case.depth / 2)
        low, high = case.band
        self.centre, self.width = (low + high) / 2, high - low
        self.cell = self.c / 2 / self.width
        self.pulse = float(np.clip(0.02 * 2 * case.depth / self.c, 1e-4, 1e-2))
        self.radius = case.diameter / 2
        self.interval = 2 * 2.2 * case.depth / self.c + self.pulse
        side = self.c * self.pulse / 2
        self.start = max(case.depth - 1.0 - 3 * case.height - 60 * self.cell, 0.3 * case.depth)
        self.behind = min(1.2 * side, 0.25 * case.depth) + 20 * self.cell + 0.6  # of ground, behind the nearest
        self.long = case.depth + self.behind + side - self.start
        count = int(np.ceil(self.long * 2 / self.c * self.width))
        self.f = low + (np.arange(count) + 0.5) * self.width / count
        self.padded = 4 * count
        self.range = self.start + np.arange(self.padded) * self.c / 2 / (self.width / count) / self.padded
        self.per_cell = self.cell / (self.range[1] - self.range[0])
        self.nodes = self.centre - 0.5 * self.width * np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
        apart = self.nodes[:, None] - self.nodes + np.eye(NODES)
        ways = (self.f - self.nodes[:, None])[None]  # Lagrange's polynomials through the nodes
        own = np.arange(NODES)
        self.between = np.array([np.prod(ways[0, own != k], axis=0) / np.prod(apart[k, own != k]) for k in own])
        self._filter()
        self.loss = absorption(self.f, t, s, case.depth / 2)
        self.loss_centre = absorption(self.centre, t, s, case.depth / 2)
        self._levels()

    def _filter(self):
        """Set the filter's response over the band: the pulse's power times Hann's weighting, and what noise passes."""
        step = 1 / (16 * self.width)
        time = np.arange(-self.pulse / 2, self.pulse / 2, step) + step / 2
        edge = np.clip((self.pulse / 2 - abs(time)) / (0.25 * self.pulse), 0, 1)  # half of the pulse is ramps
        shape = (0.5 - 0.5 * np.cos(np.pi * edge)) * np.exp(1j * np.pi * self.width / self.pulse * time**2)
        away = self.f - self.centre
        spectrum = np.array([np.sum(shape * np.exp(-2j * np.pi * one * time)) for one in away]) * step
        hann = 0.5 + 0.5 * np.cos(2 * np.pi * away / self.width)
        self.response = abs(spectrum) ** 2 * hann / np.sum(abs(spectrum) ** 2 * hann)
        df = self.f[1] - self.f[0]
        self.noise_gain = np.sum(abs(spectrum) ** 2 * hann**2) / np.sum(abs(spectrum) ** 2 * hann) ** 2 / df
        self.shape = abs(spectrum) * hann

    def _levels(self):
        """Set the source's amplitude over the band re its middle, and the noise behind the filter re the source."""
        case = self.case

        def factor(f):
            ka = 2 * np.pi * f / self.c * self.radius
            return ka**2 / (1 - j1(2 * ka) / ka)

        self.source = np.sqrt(factor(self.f) / factor(self.centre))
        level = 170.8 + 10 * np.log10(case.power * case.efficiency * factor(self.centre))
        khz = self.centre / 1e3
        wind, thermal = 50 + 20 * np.log10(khz) - 40 * np.log10(khz + 0.4), -15 + 20 * np.log10(khz)
        own = 48 + 1.75 * (case.knots - 4) - 20 * np.log10(khz / 50)
        density = np.sum(10 ** (0.1 * np.array([wind, thermal, own]))) / factor(self.centre)
        self.noise = 10 * np.log10(density * self.noise_gain) - level  # dB re the source's level at 1 m

    def beam(self, sine):
        """Return the two-way beam [1] (n, node) at sines of the angle off the axis (n)."""
        x = np.maximum(np.outer(sine, 2 * np.pi * self.nodes / self.c * self.radius), 1e-6)
        return (2 * j1(x) / x) ** 2

    def echo(self, distance, sine, amplitude, phase):
        """Return the spectrum (f) of scatterers at distances [m] (n), their phases, and amplitudes (n, node) [m].

        What changes slowly over the band (beam, loss, strength) is a polynomial through its values at `nodes`.
        """
        r = distance[:, None]
        loss = 10 ** (-0.1 * r * np.interp(self.nodes, self.f, self.loss)) / r**2
        slow = ((amplitude * self.beam(sine) * loss) @ self.between).astype(np.float32)
        step = -4 * np.pi / self.c * (distance - self.start) * (self.f[1] - self.f[0])
        first = phase - 4 * np.pi / self.c * (distance - self.start) * self.f[0]
        coarse = np.exp(1j * (first[:, None] + np.outer(step, 32 * np.arange(-(-len(self.f) // 32)))))
        fine = np.exp(1j * np.outer(step, np.arange(32)))
        turn = coarse.astype(np.complex64)[:, :, None] * fine.astype(np.complex64)[:, None, :]
        total = np.einsum("nf,nf->f", slow, turn.reshape(len(r), -1)[:, : len(self.f)])
        return total * self.source * self.response

    def level(self, spectrum, rng):
        """Return echo strength [dB re 1 m2] (sample): spreading and absorption taken off, noise added."""
        white = rng.standard_normal(len(self.f)) + 1j * rng.standard_normal(len(self.f))
        white *= self.shape * np.sqrt(10 ** (0.1 * self.noise) / 2 / np.sum(self.shape**2))
        y = np.fft.ifft(spectrum + white, self.padded) * self.padded
        return 20 * np.log10(abs(y) + 1e-30) + 40 * np.log10(self.range) + 2 * self.loss_centre * self.range


class Ground:
    """The relief of one pass: waves of 0.3 m and more, up to a tenth of the depth, of the sediment's own spectrum."""

    def __init__(self, case, rng):
        longest = float(np.clip(0.1 * case.depth, 1.0, 20.0))
        low, high = (2 * np.pi / wave / 100 for wave in (longest, 0.3))
        power = 2 - GAMMA2
        variance = 2e-4 * np.pi * SEDIMENTS[case.sediment][4] * (low**power - high**power) / -power
        u = rng.random(240)
        number = 100 * (low**power + u * (high**power - low**power)) ** (1 / power)
        way = 2 * np.pi * rng.random(240)
        self.waves = number * np.cos(way), number * np.sin(way), 2 * np.pi * rng.random(240)
        self.size = np.sqrt(2 * variance / 240) if case.natural else 0.0

    def deeper(self, x, y):
        """Return how much deeper than the mean the ground is [m] at x, y [m]."""
        if self.size == 0:
            return np.zeros(len(x))
        kx, ky, phase = (wave.astype(np.float32) for wave in self.waves)
        turns = np.outer(x.astype(np.float32), kx) + np.outer(y.astype(np.float32), ky) + phase
        return self.size * np.cos(turns).sum(axis=1)


def bottom(sounder, laws, ground, x, y, rng, a_cell=10):
    """Return the spectrum of the bottom under a boat at x, y [m]: patches of a fresh ground, some inside the sediment.

    a_cell: patches in each resolution cell of range.
    """
    case, depth = sounder.case, sounder.case.depth
    edge = np.sqrt((depth + sounder.behind) ** 2 - depth**2)
    count = int(a_cell * sounder.behind / sounder.cell)
    off, turn = edge * np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    area = np.pi * edge**2 / count
    dx, dy = off * np.cos(turn), off * np.sin(turn)
    down = depth + ground.deeper(x + dx, y + dy)
    inside = rng.random(count) < 0.3
    cosine = depth / np.hypot(depth, off)
    share = np.where(inside, 0.3, 0.7)
    scatter = np.array([np.where(inside, law[1](cosine), law[0](cosine)) for law in laws]) / share * area
    # Between three frequencies of the band: a parabola.
    place = 2 * (sounder.nodes - sounder.centre) / sounder.width
    parabola = np.array([0.5 * place * (place - 1), 1 - place**2, 0.5 * place * (place + 1)])
    amplitude = np.sqrt(np.maximum(scatter.T @ parabola, 0.0))
    _, nu, _, attenuation = SEDIMENTS[case.sediment][:4]
    scale = 10 / np.log(10) / (2 * attenuation * sounder.centre / 1e3)
    down = down + np.where(inside, rng.exponential(scale, count), 0.0) / nu
    distance = np.hypot(down, off)
    return sounder.echo(distance, off / distance, amplitude, 2 * np.pi * rng.random(count))


def wandering(rng):
    """Return a smooth random process of time [s]: variance 1, memory 1 s."""
    rate, phase = np.sqrt(-2 * np.log(rng.random(4))), 2 * np.pi * rng.random(4)
    return lambda time: np.sqrt(0.5) * np.cos(rate * time + phase).sum()


def look(sounder, level, true, length):
    """Return whether one ping (level, dB re 1 m2, by sample) detects the fish at a true range [m], and separates it."""
    power = 10 ** (0.1 * level) / sounder.range**2
    m, cell = round(8 * sounder.per_cell), sounder.per_cell
    mean = np.convolve(power, np.ones(m) / m, "valid")
    best = int(np.argmax(mean))
    peak = best + int(np.argmax(power[best : best + m]))
    bottom_level = mean[best]
    gap = int(np.ceil(2 * cell)) + 1
    quiet = _runs(power[: peak + 1] <= bottom_level * 10**-1.5, gap)
    pick = quiet[-1][1] if quiet else peak
    within = max(3 * sounder.cell, 0.25 * length)
    noise = 10 ** (0.1 * sounder.noise) * 10 ** (0.2 * sounder.loss_centre * sounder.range) * sounder.range**2
    detected = separated = False
    for i in range(1, pick):
        if abs(sounder.range[i] - true) > within or not level[i - 1] <= level[i] > level[i + 1]:
            continue
        if level[i] < -60 or power[i] < _threshold(power, noise, i, pick, cell):
            continue
        detected = True
        limit = min(power[i] * 10**-0.3, bottom_level * 10**-1.5)
        separated |= bool(_runs(power[i + 1 : peak + 1] <= limit, gap))
    return detected, separated


def _threshold(power, noise, i, pick, cell):
    """Return the power that a peak at sample i must exceed: noise, and what is around, for one false alarm in 10^4."""
    steps = np.rint((3 + 3 * np.arange(8)) * cell).astype(int)
    ahead, behind = i - steps, i + steps
    ahead, both = ahead[ahead >= 0], (ahead >= 0) & (behind < pick - 2 * cell)
    used = np.concatenate([i - steps[both], i + steps[both]]) if both.sum() >= 4 else ahead
    if len(used) < 4:
        return 10 * noise[i]
    local = np.exp(np.mean(np.log(power[used] / noise[used])) + np.euler_gamma) * noise[i]
    return 10 * noise[i] + FACTORS[len(used)] * max(local - noise[i], 0.0)


def _factor(count):
    """Return the factor over the mean of `count` cells, taken in decibels, that noise exceeds once in 10^4."""
    rng = np.random.default_rng(count)
    mean = np.exp(np.log(rng.exponential(size=(100_000, count))).mean(axis=1) + np.euler_gamma)
    return brentq(lambda t: np.mean(np.exp(-t * mean)) - 1e-4, 1, 1e3)


FACTORS = {count: _factor(count) for count in range(4, 17)}


def _runs(small, least):
    """Return first and last + 1 of all stretches of at least `least` samples that are small."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], small.astype(int), [0]])))
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= least]


def met(detected, counted):
    """Return whether at least 3 pings count in a row of detections with at most one ping missed in between."""
    row = missed = 0
    for shown, one in zip(detected, counted, strict=True):
        missed = 0 if shown else missed + 1
        row = 0 if missed > 1 else row
        row += bool(shown and one)
        if row >= 3:
            return True
    return False


def one_pass(case, sounder, laws, fish, rng, offset=None, with_fish=True):
    """Return whether a pass detects its fish, and separates it. offset [m]: to the side, None: anywhere."""
    down = case.depth - case.height
    ka = 2 * np.pi * sounder.centre / sounder.c * sounder.radius
    if offset is None:
        offset = down * np.tan(np.arcsin(1.61634 / ka)) * rng.uniform(-1, 1)
    null = min(np.arcsin(min(3.83171 / ka, 1.0)), np.radians(45))
    step = max(case.knots * 1852 / 3600, 0.25) * sounder.interval
    side = int(np.ceil(np.hypot(down, offset) * np.tan(null) / step))
    along = step * (np.arange(-side, side + 1) + rng.uniform(-0.5, 0.5))
    ground = Ground(case, rng)
    mean = FISH_TILT[0] + np.sqrt(FISH_TILT[1] ** 2 - 25) * rng.standard_normal()
    heading, tilting, turning = 360 * rng.random(), wandering(rng), wandering(rng)
    place = np.clip(rng.standard_normal(4), -2.5, 2.5) * SPREAD * case.length
    detected, separated = np.zeros((2, len(along)), bool)
    for i in np.argsort(abs(along)):  # more pings never undo the rule
        x = along[i]
        slant = np.sqrt(x**2 + offset**2 + down**2)
        if np.hypot(x, offset) / slant > np.sin(null) or slant > case.depth * 1.003 + 0.35 + 0.25 * case.length:
            continue
        time = x / step * sounder.interval
        tilt, yaw = np.radians(mean + 5 * tilting(time)), np.radians(heading + 10 * turning(time))
        axis = np.array([np.cos(tilt) * np.cos(yaw), np.cos(tilt) * np.sin(yaw), -np.sin(tilt)])
        way = np.array([-x, offset, down])
        spots = way[:, None] + axis[:, None] * place
        distance = np.linalg.norm(spots, axis=0)
        amplitude = WEIGHTS[:, None] * fish.amplitude(axis @ way / slant)[None]
        spectrum = bottom(sounder, laws, ground, x, 0.0, rng)
        if with_fish:
            sine = np.hypot(spots[0], spots[1]) / distance
            spectrum = spectrum + sounder.echo(distance, sine, amplitude, np.zeros(4))
        detected[i], separated[i] = look(sounder, sounder.level(spectrum, rng), slant, case.length)
        if met(detected, separated):
            break
    return met(detected, detected), met(detected, separated)


def passes(case, count, seed=0, offsets=None, with_fish=True):
    """Return which passes (2, count) detect their fish, and which separate it; offsets (count) [m]: None, anywhere."""
    sounder = Sounder(case)
    laws = [bottom_law(case.sediment, f, sounder.c) for f in (case.band[0], sounder.centre, case.band[1])]
    fish = Fish(case.length, sounder.nodes, sounder.c)
    rngs = [np.random.default_rng([seed, number]) for number in range(count)]
    offsets = [None] * count if offsets is None else offsets
    both = zip(rngs, offsets, strict=True)
    return np.array([one_pass(case, sounder, laws, fish, rng, offset, with_fish) for rng, offset in both]).T
