"""Twelve scenes of the world, rendered by the product itself, to be looked at by someone who knows real ones.

    python benchmarks/scenes.py OUT [--only NAME ...]

Writes OUT/NAME.toml and OUT/NAME/ (what `pingwright run` writes). Each scene is the template below with its own
sections; all stand on invented places. What to look for is written beside each scene.

What still looks unlike the real thing, and why:
- Schools are evenly filled ellipsoids; real ones are ragged, with holes and a denser core.
- Under a wreck's deck it is dark: structures are closed shells without rigging or holes; nothing scatters twice.
- The false rate beside a school counts the school's own fish, which the truth does not list one by one.
- Fish keep their posture and do not bend: arches fade along the beam only, real ones flicker from ping to ping.
- Scattering layer is the same all along its layer; the water has no other specks, wakes or bubbles.
- One sediment holds for a whole run, and relief is smooth: no stones, weed or ledges.
- The second echo is the first one stretched and weakened; a real one is scattered twice and by the hull, so blurred.
- Drawn as echo strength, a scattering layer looks stronger in a wide low beam, whose cells are larger, than in a
  narrow high one.
- Above the bottom the low element shows the side lobes of its chirp, -33 dB and 0.7 m high: honest for a 2 ms pulse
  with the assumed taper of 0.1; a taper of 0.3 lowers them below -50 dB beyond 0.3 m.
- Far side lobes are those of an ideal face; a housing changes them.
- On rough rock the enlarged strip still steps by up to 0.6 m in a ping here and there: what echoes first, off a flank,
  is there more than 35 dB below the bottom's maximum, as weak as a fish. A person tells it by the pings beside it; the
  pick sees one ping alone. Over a wreck it jumps to the deck or to an edge that glints, as a real one's would.
- Mud on slopes of 20 degrees and more is told as no bottom in some pings: as weak as that it may be a dense school.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

SHEET = """title = "{title}"
seed = 4
[water]
{water}
wind = "8 kn"
[boat]
speed = "4 kn"
start = "{start} m"
length = "{length} m"
transducer_depth = "0.5 m"
in_turn = true
[window]
depth = [0, {end}]
[[element]]
name = "narrow high"
use = "high-pencil"
[[element]]
name = "low"
use = "low-pencil"
[seabed]
depth = {depth}
{seabed}
{layers}
[noise]
own = "48 dB"
{things}
"""

SEA, LAKE = "temperature = 11\nsalinity = 34.5", "temperature = 16\nsalinity = 0"

FISH = """
[[fish]]
name = "near the bottom"
swimbladder = "closed"
length = "40 cm"
count = 4
where = {{ x = [{aft}, {ahead}], y = [-1, 1], above_bottom = [0.4, 2.0] }}
[[fish]]
name = "in mid-water, swimming"
swimbladder = "closed"
length = "50 cm"
count = 2
where = {{ x = [{aft}, {ahead}], y = [-0.5, 0.5], depth = [{high}, {low}] }}
swimming = {{ speed = "0.7 m/s", heading = "0 deg", climb = "8 deg" }}
"""

HULL = """
[[structure]]
name = "coaster"
shape = {{ kind = "hull", length = "36 m", width = "8 m", height = "6 m", list = "{list} deg" }}
at = {{ x = 0, y = 1 }}
heading = "12 deg"
material = "steel"
[[fish]]
name = "over and behind the wreck"
swimbladder = "closed"
length = "45 cm"
count = 10
where = {{ x = [-24, 24], y = [-3, 3], above_bottom = [0.5, 11] }}
"""

SCHOOL = """
[[school]]
name = "herring shoal"
body = "herring-like"
at = { x = 0, y = 0, depth = 22 }
size = { along = 14, across = 12, height = 6 }
density = "6 per m3"
"""

SCATTERING_LAYER = """
[[scattering_layer]]
name = "krill"
kind = "fluid"
depth = [12, 17]
volume_strength = "-52 dB"
frequency = "120 kHz"
[[scattering_layer]]
name = "gassy layer"
kind = "gas"
depth = [24, 27]
volume_strength = "-60 dB"
frequency = "50 kHz"
"""


def bed(sediment):
    return f'[[seabed.layer]]\nsediment = "{sediment}"\n'


def sheet(title, sediment, things="", *, depth=40, seabed="", water=SEA, start=-30, length=60, end=None):
    return SHEET.format(
        title=title,
        water=water,
        start=start,
        length=length,
        depth=depth,
        end=end or round(1.3 * depth),
        seabed=seabed,
        layers=bed(sediment),
        things=things,
    )


FEW = FISH.format(high=10, low=25, aft=-24, ahead=24)

SCENES = {
    # Weak long tail below a soft top edge, hardly a second echo; the low element's tail longer than the high one's.
    "mud": sheet("Mud", "mud", FEW, end=100),
    # A clean bright edge and a second echo at twice the depth; no tail beyond the beam's own.
    "sand": sheet("Sand", "medium sand", FEW, end=100),
    # Longer and rougher than sand: the sides of the beam echo; strong second echo.
    "gravel": sheet("Gravel", "gravel", FEW, end=100),
    # The strongest and longest, with relief of its own.
    "rock": sheet("Rock", "rock", FEW, end=100, seabed='relief = { height = "1.5 m", wavelength = "9 m" }'),
    # First edge at d cos(beta), long echo; fish close to it are lost first in the wide beam.
    "slope": sheet("Slope", "fine sand", FEW, end=62, seabed='slope = { along = "10 deg", across = "0 deg" }'),
    # Crests sharp in the narrow beam, filled-in troughs (crossing arcs) in the wide one.
    "sand-waves": sheet(
        "Sand waves", "coarse sand", FEW, seabed='relief = { height = "2 m", wavelength = "14 m", heading = "0 deg" }'
    ),
    # Flat deck glints; arcs fall off its ends; seabed missing under it.
    "wreck-upright": sheet("Wreck, upright", "gravel", HULL.format(list=0)),
    # No deck glint; ragged.
    "wreck-listing": sheet("Wreck, listing", "gravel", HULL.format(list=35)),
    # Dense in the middle, single fish at the edges, arcs under the low element; bottom below it dimmer.
    "school": sheet("School", "medium sand", SCHOOL),
    # Krill strong in the high band and weak in the low one; the gassy layer the other way round.
    "scattering_layer": sheet("Scattering layer", "fine sand", FEW + SCATTERING_LAYER),
    # Shallow fresh water: blind start, bottom repeated.
    "lake": sheet(
        "Lake",
        "silt",
        FISH.format(high=3, low=6, aft=-9, ahead=9),
        depth=9,
        water=LAKE,
        start=-12,
        length=24,
        end=30,
        seabed='slope = { along = "1 deg", across = "0 deg" }',
    ),
    # Spreading and absorption: noise rises with depth in the high band; the wide beam's arches are as long as the run.
    "deep": sheet(
        "Deep",
        "fine sand",
        FISH.format(high=120, low=250, aft=-24, ahead=24),
        depth=300,
        start=-60,
        length=120,
        end=360,
    ),
}


def main():
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("out", type=Path)
    words.add_argument("--only", nargs="*", choices=SCENES, default=list(SCENES))
    chosen = words.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    for name in chosen.only:
        text = chosen.out / f"{name}.toml"
        text.write_text(SCENES[name])
        begun = time.perf_counter()
        command = [sys.executable, "-m", "pingwright", "run", str(text), "--out", str(chosen.out / name), "--quiet"]
        subprocess.run(command, check=True)
        print(f"{name}: {time.perf_counter() - begun:.1f} s")


if __name__ == "__main__":
    main()
