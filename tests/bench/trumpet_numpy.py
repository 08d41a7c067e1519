"""The six-window trumpet over a million readings with numpy prefix sums, beside the project's own, in one run.

Needs numpy from PyPI. Run from the project's folder: python3 tests/bench/trumpet_numpy.py
"""
import os
import subprocess
import time

import numpy as np

ROWS, INTERVAL_S, RATE = 1_000_000, 30.0, 25e-6 / 3600
WINDOWS_MIN = [1, 2, 5, 11, 19, 31]
RUNS = 7
ROUNDING = 1e-9


def readings():
    """The volumes in m3 that tests/bench/logged.rs makes."""
    steps = 1883 + np.arange(ROWS) * 7919 % 401
    steps[0] = 0
    return np.cumsum(steps) / 1e10


def trumpet(volumes):
    """Mean errors of all windows by prefix sums of the flow errors."""
    errors = 100 * (np.diff(volumes) / INTERVAL_S - RATE) / RATE
    prefix = np.concatenate(([0.0], np.cumsum(errors)))
    points = []
    for minutes in WINDOWS_MIN:
        count = round(minutes * 60 / INTERVAL_S)
        means = (prefix[count:] - prefix[:-count]) / count
        high, low = means.argmax(), means.argmin()
        points.append((minutes, means[high], high + 1, means[low], low + 1))
    return points


def fastest(work):
    """The best of some runs, in s, and the last result."""
    best, result = float("inf"), None
    for _ in range(RUNS):
        start = time.perf_counter()
        result = work()
        best = min(best, time.perf_counter() - start)
    return best, result


def own():
    """The project's time in s, and its points."""
    command = ["cargo", "bench", "--quiet", "--bench", "growth"]
    told = subprocess.run(command, env={**os.environ, "STEPWELL_TRUMPET": "1"}, capture_output=True, text=True, check=True)
    first, *rest = told.stdout.splitlines()
    return float(first.split()[0]), [[float(n) for n in line.split()] for line in rest]


def main():
    volumes = readings()
    numpy_s, points = fastest(lambda: trumpet(volumes))
    own_s, own_points = own()
    print(f"numpy {np.__version__}: {numpy_s * 1e3:.2f} ms; stepwell: {own_s * 1e3:.2f} ms; ratio {own_s / numpy_s:.2f}")
    for theirs, ours in zip(points, own_points, strict=True):
        same = abs(theirs[1] - ours[1]) < ROUNDING * 100 and abs(theirs[3] - ours[3]) < ROUNDING * 100
        print(f"P {theirs[0]} min: Ep(max) {ours[1]:.6f} % Ep(min) {ours[3]:.6f} %", "agrees" if same else f"DIFFERS from {theirs}")


main()
