"""How fast the engine is: ratios against FFT floors and against the direct sum, interleaved in one run.

    python benchmarks/engine.py [--pings 1000] [--repeats 5] [--json FILE]

Case: 150 m, 80 kHz band, contract sampling, 2 ms chirp, 61 mm disc over a flat bottom at 75 m, two elements of one
face each in their own band, fish in mid-water. The floor is the same number of batched complex64 IFFTs of the stored
length plus numpy float32 normals (SFC64) for every stored complex sample, on the same number of threads.
"""

import argparse
import itertools
import json
import os
import statistics
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numba
import numpy as np
from scipy import fft

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
sys.path.insert(0, str(Path(__file__).parent.parent))
import engine_scene as scene
import reference
from pingwright.engine import geometry, jobs, preparing, settings
from pingwright.engine import simulate as engine
from pingwright.engine.kernels import spread as kernels
from pingwright.engine.kernels.vectors import splat, store
from pingwright.engine.still import keep
from pingwright.world.scatterers import World

RANGE, DEPTH, BATCH = 150.0, 75.0, 16
EDGE = 16.0


class Bed:
    """A flat bottom of uniform random patches by tiles, made once."""

    tile_edge = EDGE

    def __init__(self, in_range):
        self.density = in_range / (np.pi * (RANGE**2 - DEPTH**2))
        self.made = {}

    def tiles(self, indices, looks):
        return [[(self.tile(*index), np.ones((len(looks), 2)))] for index in indices]

    def tile(self, ix, iy):
        if (ix, iy) not in self.made:
            rng = np.random.default_rng((1, ix + 4096, iy + 4096))
            n = rng.poisson(self.density * EDGE**2)
            place = np.stack([(ix + rng.random(n)) * EDGE, (iy + rng.random(n)) * EDGE, np.full(n, DEPTH)])
            self.made[ix, iy] = scene.scatterers(place, amplitude=self.density**-0.5, phase=rng.random(n))
        return self.made[ix, iy]


def world(patches, fish, pings):
    rng = np.random.default_rng(2)
    x = np.sort(rng.uniform(-60, 60 + 0.1 * pings, round(fish * (120 + 0.1 * pings) / 120) if fish else 0))
    n = len(x)
    axis = rng.normal(size=(3, n))
    place = np.stack([x, rng.uniform(-30, 30, n), rng.uniform(5, 70, n)])
    points = scene.scatterers(place, axis / np.sqrt((axis**2).sum(axis=0)), 1.0, rng.random(n), 1)
    return World(
        seed=11, water=scene.sea_water(), track=scene.track(pings), terrain=scene.Flat(DEPTH), laws=scene.LAWS,
        discrete=scene.discrete(points), seabed=Bed(patches) if patches else None,
    )  # fmt: skip


def elements():
    return tuple(scene.element(band=band, name=f"e{band[0]:.0f}") for band in ((130e3, 210e3), (215e3, 295e3)))


def timed(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def simulate(w, pair, run_settings, threads):
    for _ in engine.simulate(w, pair, run_settings, threads=threads):
        pass


def floor(length, count, threads):
    """The IFFTs and normals that any simulator of this many samples needs."""

    own = threading.local()

    def batch(seed):
        # Memory is used again, as by the engine: the floor is as lean as can be.
        if not hasattr(own, "rows"):
            own.rows = np.empty((BATCH, length), np.complex64)
            own.normals = np.empty((BATCH, 2 * length), np.float32)
        rng = np.random.Generator(np.random.SFC64(seed))
        rng.standard_normal(out=own.normals, dtype=np.float32)
        own.rows[...] = own.normals.view(np.complex64)
        fft.ifft(own.rows, axis=1, overwrite_x=True)

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(batch, range(count // BATCH)))


def against_floor(patches, pings, repeats, threads=2):
    """Return times of engine and floor, in turn."""
    pair, run_settings = elements(), scene.settings(end=RANGE)
    w = world(patches, 2000, pings)
    length = settings.sampling(pair[0], run_settings).stored_length
    simulate(world(patches, 2000, 32), pair, run_settings, threads)  # compiled and warm
    simulate(w, pair, run_settings, threads)  # tiles made
    rows = []
    for _ in range(repeats):
        rows.append(
            (timed(lambda: simulate(w, pair, run_settings, threads)), timed(lambda: floor(length, 2 * pings, threads)))
        )
    return rows


def against_direct(repeats):
    """Return times of the direct sum and of one ping of the engine, for 2000 scatterers, one thread each."""
    rng, run_settings = np.random.default_rng(3), scene.settings(end=RANGE)
    e = elements()[0]
    points = scene.random_points(2000, rng, depth=(5.0, DEPTH), half_width=60.0)
    w = scene.world(points, path=scene.track(BATCH), water=scene.sea_water(0.5, 200.0))
    run = preparing.Run(w, (e,), run_settings, True)
    preparing.prepare(run)
    jobs.job(run, range(BATCH), True)
    e.source_amplitude(np.linspace(*e.band, 200))
    got = jobs.job(run, [1], True)[0].echo[0]
    want = reference.ping(w, e, run_settings, 1)
    error = 10 * np.log10((np.abs(got - want) ** 2).sum() / (np.abs(want) ** 2).sum())
    size = np.abs(want)
    strong = size > size.max() * 1e-3
    envelope = float(np.abs(20 * np.log10(np.abs(got[strong]) / size[strong])).max())
    pose = geometry.pose(w.track, 1, e)
    grid = settings.sampling(e, run_settings)
    frequency = sum(e.band) / 2 + grid.bins * grid.step
    parts = [geometry.take(points, slice(k, k + 200)) for k in range(0, 2000, 200)]
    rows = [
        (
            timed(lambda: [reference.spectrum(w, e, pose, part, frequency) for part in parts]),
            timed(lambda: jobs.job(run, range(BATCH), False)) / BATCH,
        )
        for _ in range(repeats)
    ]
    return rows, float(error), envelope


def marginal(repeats):
    """Return the time of one patch [s] between pairs of patch counts, one element, one thread."""
    e, run_settings = elements()[:1], scene.settings(end=RANGE)
    counts = (5_000, 50_000, 200_000)
    runs = []
    for count in counts:
        run = preparing.Run(world(count, 0, BATCH), e, run_settings)
        preparing.prepare(run)
        jobs.job(run, range(BATCH), False)
        runs.append(run)
    times = [
        [timed(lambda run=run: jobs.job(run, range(BATCH), False)) / BATCH for run in runs] for _ in range(repeats)
    ]
    middle = [statistics.median(t) for t in zip(*times, strict=True)]
    return {
        f"{a} to {b}": (tb - ta) / (b - a)
        for (a, ta), (b, tb) in zip(
            zip(counts, middle, strict=True), zip(counts[1:], middle[1:], strict=True), strict=False
        )
    }


def lanes(repeats):
    """Return how much longer one row of taps takes as plain numba loops than by `vectors`, one thread."""
    half, pairs, count = 6, (1, 2, 4), 20_000
    columns = half + len(pairs)
    rng = np.random.default_rng(4)
    taps = rng.normal(size=(65, columns, 2, 16)).astype(np.float32)
    rows = rng.normal(size=(count, 2, 16)).astype(np.float32)
    step = rng.integers(0, 64, count)
    taps_of = kernels.make_taps(half, pairs)

    @numba.njit(nogil=True, error_model="numpy")
    def by_lanes(taps, rows, step, out):
        for k in range(step.shape[0]):
            here = step[k] * columns * 32
            real, imaginary = taps_of(rows.ctypes.data, k * 32, taps.ctypes.data, here, splat(np.float32(0.3)))
            store(out.ctypes.data, k * 32, real)
            store(out.ctypes.data, k * 32 + 16, imaginary)

    @numba.njit(nogil=True, error_model="numpy")
    def by_loops(taps, rows, step, out):
        part = np.float32(0.3)
        for k in range(step.shape[0]):
            out[k] = np.float32(0)
            for side in range(2):
                for j in range(half):
                    for n in range(16):
                        out[k, side, n] += rows[k, side, j] * taps[step[k], j, side, n]
                for j in range(len(pairs)):
                    node = part * rows[k, side, pairs[j]]
                    for n in range(16):
                        out[k, side, n] += node * taps[step[k], half + j, side, n]

    out = [np.empty_like(rows), np.empty_like(rows)]
    by_lanes(taps, rows, step, out[0])
    by_loops(taps, rows, step, out[1])
    if not np.allclose(*out, atol=1e-4):
        sys.exit("the two ways differ")
    return [
        timed(lambda: by_loops(taps, rows, step, out[1])) / timed(lambda: by_lanes(taps, rows, step, out[0]))
        for _ in range(repeats * 5)
    ]


def laid_over(patches, repeats, pings=64):
    """Return times of simulating pings with their bottom, and of laying a fish of 30 points over what was kept."""
    one, run_settings = elements()[:1], scene.settings(end=RANGE)
    ground = world(patches, 0, pings)
    rng = np.random.default_rng(5)
    place = np.stack([np.sort(rng.uniform(3.0, 3.5, 30)), rng.uniform(-0.1, 0.1, 30), rng.uniform(70, 70.2, 30)])
    fish = replace(ground, seabed=None, discrete=scene.discrete(scene.scatterers(place, phase=rng.random(30), law=1)))
    kept = keep(ground, one, run_settings, threads=1)
    kept.changed(fish)
    return [
        (
            timed(lambda: keep(ground, one, run_settings, threads=1)) / pings,
            timed(lambda: kept.changed(fish)) / pings,
        )
        for _ in range(repeats)
    ]


def spread(values):
    return f"{statistics.median(values):.3g} ({min(values):.3g} .. {max(values):.3g})"


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--pings", type=int, default=1000)
    asked.add_argument("--repeats", type=int, default=5)
    asked.add_argument("--json", type=Path, default=Path("engine.json"))
    options = asked.parse_args()
    result = {"pings": options.pings, "cores": os.cpu_count(), "load": os.getloadavg()[0]}
    for patches in (50_000, 20_000):
        rows = against_floor(patches, options.pings, options.repeats)
        ratio = [a / b for a, b in rows]
        result[f"{patches} patches and 2000 fish / floor"] = statistics.median(ratio)
        print(f"{patches} patches + 2000 fish, 2 threads: {spread([a for a, _ in rows])} s; / floor {spread(ratio)}")
    pair, run_settings, w = elements(), scene.settings(end=RANGE), world(50_000, 2000, options.pings // 2)
    simulate(w, pair, run_settings, 2)
    threads = [[timed(lambda n=n: simulate(w, pair, run_settings, n)) for n in (1, 2)] for _ in range(options.repeats)]
    gain = [a / b for a, b in threads]
    result["threads 1 to 2"] = statistics.median(gain)
    print(f"threads 1 -> 2: {spread(gain)}")
    counts = [options.pings // 10, options.pings, options.pings * 10]
    long = [
        [timed(lambda n=n: simulate(world(20_000, 2000, n), pair, run_settings, 2)) for n in counts]
        for _ in range(min(options.repeats, 2))
    ]
    middle = [statistics.median(column) for column in zip(*long, strict=True)]
    cost = {
        f"{a} to {b}": (tb - ta) / (b - a) * 1e3
        for (a, ta), (b, tb) in itertools.pairwise(zip(counts, middle, strict=True))
    }
    result["marginal cost of a ping [ms]"] = cost
    print("marginal cost of a ping, tiles included:", ", ".join(f"{k}: {v:.2f} ms" for k, v in cost.items()))
    cost = marginal(options.repeats)
    result["marginal cost of a patch [ns]"] = {k: v * 1e9 for k, v in cost.items()}
    print("marginal cost of a patch:", ", ".join(f"{k}: {v * 1e9:.1f} ns" for k, v in cost.items()))
    gain = lanes(options.repeats)
    result["taps: plain loops / lanes"] = statistics.median(gain)
    print(f"taps of a scatterer, plain loops / lanes: {spread(gain)}")
    rows = laid_over(50_000, options.repeats)
    share = [b / a for a, b in rows]
    result["a fish laid over / a ping of 50000 patches"] = statistics.median(share)
    each = spread([b * 1e6 for _, b in rows])
    print(f"a fish laid over a kept ping: {each} us; / a ping with its bottom {spread(share)}")
    rows, error, envelope = against_direct(min(options.repeats, 3))
    speed = [a / b for a, b in rows]
    result |= {"speed-up over the direct sum": statistics.median(speed), "error dB": error, "envelope dB": envelope}
    print(f"2000 scatterers, 1 thread: {spread(speed)} times the direct sum; error {error:.1f} dB,", end=" ")
    print(f"envelope {envelope:.3f} dB")
    options.json.write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
