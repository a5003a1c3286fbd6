"""How fast the bench answers in a real browser, and whether its memory stays steady.

Run: `python benchmarks/bench.py [SCENARIO] [changes] [repeats]` (Chromium and its driver; selenium). Prints, for a
lifted fish, a slid depth and a swapped element, the time from the key or change to the first pictures of it [ms], to
the pictures of all pings, and to their marks and counts, median and worst of so many (20), and the server's memory
[MiB] before and after so many changes (500).
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

ROOT = Path(__file__).resolve().parents[1]
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")

#: Does something and calls back with the milliseconds until its first look (0: none), all its pings and all that is
#: judged are drawn.
TIMED = """
const [act, done] = arguments, data = document.body.dataset, before = +data.serial, began = performance.now();
let first = 0, every = 0;
const look = () => {
  if (!first && +(data.looked || 0) > before) first = performance.now() - began;
  if (!every && +(data.drawn || 0) > before) every = performance.now() - began;
  const judged = +data.serial > before && !document.querySelector(".column.stale");
  if (judged) done([first, every, performance.now() - began]);
  else requestAnimationFrame(look);
};
new Function(act)();
look();
"""
READY = "const done = arguments[0], look = () => (document.body.dataset.ready ? done() : setTimeout(look, 20)); look()"
LIFT = "document.querySelector('[data-handle=lens]').dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowUp'}))"
LOWER = LIFT.replace("ArrowUp", "ArrowDown")
FIELD = "[data-key='seabed.depth'] input[type=number]"
DEPTH = "const f = document.querySelector(\"%s\"); f.value = %s; f.dispatchEvent(new Event('change'))"
SWAP = (
    "if (document.getElementById('element').hidden) document.querySelector('.column .edit').click();"
    "const s = document.querySelector('#own select'); s.value = '%s'; s.dispatchEvent(new Event('change'))"
)


def resident(process: int) -> float:
    """Return the memory [MiB] that a process holds."""
    status = Path(f"/proc/{process}/status").read_text()
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS"))) / 1024


def browser(folder: str) -> webdriver.Chrome:
    """Return a browser without a window, 1366 by 768."""
    options = webdriver.ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for flag in (*FLAGS, "--window-size=1366,768", f"--user-data-dir={folder}"):
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))
    driver.set_script_timeout(60)
    return driver


def told(name: str, times: list[tuple[float, float, float]]) -> None:
    """Print lines of times [ms]: first looks, if any, all pings, all judged; the first change is shown alone."""
    for kind, column in zip(("first look", "all pings", "judged"), np.array(times).T, strict=True):
        if column.any():
            first, median, worst = column[0], np.median(column[1:]), column[1:].max()
            text = f"first {first:6.0f}  median {median:6.0f}  worst {worst:6.0f} ms"
            print(f"{name:16} {kind:11} {text}", flush=True)


def main(scenario: str, changes: int, repeats: int) -> None:
    """Time changes and watch memory."""
    program = [sys.executable, "-m", "pingwright", "bench", scenario, "--no-browser", "--quiet"]
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator")}
    with (
        tempfile.TemporaryDirectory() as folder,
        subprocess.Popen(program, stdout=subprocess.PIPE, text=True, env=environment) as process,
    ):
        driver = browser(folder)
        driver.get(process.stdout.readline().strip())
        driver.execute_async_script(READY)
        timed = lambda act: driver.execute_async_script(TIMED, act)  # noqa: E731
        told("fish lifted", [timed(LIFT if i % 2 else LOWER) for i in range(repeats + 1)])
        depth = float(driver.execute_script(f'return document.querySelector("{FIELD}").value'))
        told("depth slid", [timed(DEPTH % (FIELD, depth + 5 + i)) for i in range(repeats + 1)])
        told("element swapped", [timed(SWAP % ("medium-pencil", "low-pencil")[i % 2]) for i in range(repeats + 1)])
        before = resident(process.pid)
        for i in range(changes):
            timed(LIFT if i % 2 else LOWER)
        print(f"memory {before:.0f} MiB, after {changes} changes {resident(process.pid):.0f} MiB")
        driver.quit()
        process.terminate()


if __name__ == "__main__":
    main(
        sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "scenarios/01_wreck_on_gravel.toml"),
        int(sys.argv[2]) if len(sys.argv) > 2 else 500,
        int(sys.argv[3]) if len(sys.argv) > 3 else 20,
    )
