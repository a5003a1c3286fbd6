"""Things that a scenario puts where no ping can show them, mostly by mistake: the picture would just be empty."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from pingwright.world.contents import Stock
from pingwright.world.scatterers import FloatArray, Track
from pingwright.world.terrain import Ground

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario
    from pingwright.world.structure import Placed

#: Nothing is heard farther from the track than this many times the greatest depth: 76 degrees off the vertical;
#: assumed.
FAR = 4.0


def unheard(
    scenario: "Scenario", stocks: Sequence[Stock], standing: Sequence["Placed"], ground: Ground, track: Track
) -> list[str]:
    """Return one sentence for each thing that no ping can show, and for a window that leaves the seabed out."""
    depths = ground.depth(track.x, track.y)
    return [
        *_window(scenario, depths),
        *_far(scenario, standing, float(FAR * depths.max()), track),
        *_layers(scenario, depths),
        *_long(stocks, float(depths.min())),
    ]


def _window(scenario: "Scenario", depths: FloatArray) -> Iterator[str]:
    """Warn if the bottom is below the window, so that fish cannot be judged against it."""
    end = scenario.window.depth[1] if scenario.window and scenario.window.depth else float("inf")
    cut = float(np.mean(depths > end))
    if cut > 0.0 and scenario.fish:
        yield (
            f"The window ends at {end:.4g} m, but the seabed is deeper in {max(1, round(100 * cut))} % of the pings."
            " These pings show no bottom, and all that they show counts as separated from it."
        )


def _far(scenario: "Scenario", standing: Sequence["Placed"], most: float, track: Track) -> Iterator[str]:
    """Warn of patches, layers, labels and structures farther from the run than `most` [m]."""

    def outside(x: Sequence[float] | None, y: Sequence[float] | None) -> bool:
        return any(
            span is not None and max(min(span) - way.max(), way.min() - max(span)) > most
            for span, way in ((x, track.x), (y, track.y))
        )

    things: list[tuple[str, str, Sequence[float] | None, Sequence[float] | None]]
    things = [(f"seabed.patch[{n}]", "patch", one.x, one.y) for n, one in enumerate(scenario.seabed.patch, 1)]
    things += [(one.name, "layer", one.x, one.y) for one in scenario.scattering_layer]
    things += [(one.text, "label", (one.at.x,), (one.at.y,)) for one in scenario.label]
    for surface in standing:
        x, y, _ = surface.occluder.vertices.T
        things.append((surface.name, "structure", tuple(x), tuple(y)))
    for name, kind, x, y in things:
        if outside(x, y):
            yield f"{name}: the {kind} lies more than {most:.3g} m from the track; no picture shows it."


def _layers(scenario: "Scenario", depths: FloatArray) -> Iterator[str]:
    """Warn of scattering layers that are completely under the ground, or above the transducers."""
    for layer in scenario.scattering_layer:
        if layer.depth is None:
            continue
        if layer.depth[0] >= depths.max():
            yield f"{layer.name}: the layer begins at {layer.depth[0]:.4g} m, below the seabed; no element can show it."
        elif layer.depth[1] <= scenario.boat.transducer_depth:
            yield (
                f"{layer.name}: the layer ends at {layer.depth[1]:.4g} m, above the transducers; no element can show"
                " it."
            )


def _long(stocks: Sequence[Stock], shallowest: float) -> Iterator[str]:
    """Warn of fish that are longer than the water is deep."""
    for stock in stocks:
        if len(stock) and stock.length.max() > shallowest:
            yield (
                f"{stock.name}: fish of {100 * stock.length.max():.0f} cm are longer than the water is deep"
                f" ({shallowest:.2g} m at the shallowest)."
            )
