"""Everything that is computed once in a run, in one thread: grids, channels, tables, filters, and things that hide."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pingwright.element.model import Element
from pingwright.engine import geometry, look, receiver, scattering_layers, settings, shadows, tables
from pingwright.engine.channels import Channel, Piece, divide
from pingwright.engine.scratch import Scratch
from pingwright.engine.settings import Sampling, Settings
from pingwright.engine.tables import Tables
from pingwright.world import posture
from pingwright.world.looks import Look
from pingwright.world.posture import Swimmers
from pingwright.world.scatterers import Scatterers, World


@dataclass(frozen=True)
class Run:
    """Everything that is computed once in a run.

    quiet: no noise. linear: echoes are returned as before saturation and word length. known_tiles: of the same seabed,
    made for another run, with the looks of these elements among theirs.
    """

    world: World
    elements: tuple[Element, ...]
    settings: Settings
    quiet: bool = False
    linear: bool = False
    known_tiles: geometry.Tiles | None = None

    @cached_property
    def samplings(self) -> list[Sampling]:
        """Grids, one for each element."""
        return [settings.sampling(element, self.settings) for element in self.elements]

    @cached_property
    def reach(self) -> float:
        """Longest one-way path from which echoes arrive [m]."""
        return settings.reach(self.settings, self.samplings, self.world)

    @cached_property
    def face_slowness(self) -> float:
        """Slowness of sound at the faces [s/m]."""
        return 1 / float(self.world.water.sound_speed(np.array([self.settings.transducer_depth]))[0])

    @cached_property
    def channels(self) -> list[list[Channel]]:
        """For each element the channels that it receives, its own first."""
        heard = []
        for element in self.elements:
            apart = self.settings.in_turn or not self.settings.crosstalk
            others = [] if apart else [e for e in self.elements if e is not element]
            overlapping = [e for e in others if min(e.band[1], element.band[1]) > max(e.band[0], element.band[0])]
            heard.append([Channel(element, element), *(Channel(e, element) for e in overlapping)])
        return heard

    @cached_property
    def pieces(self) -> list[list[Piece]]:
        """For each element the pieces of the channels that it receives, those of its own first."""
        depth, accuracy = self.settings.transducer_depth, self.settings.accuracy
        return [
            [piece for c in channels for piece in divide(c, self.world, depth, self.reach, grid, accuracy)]
            for channels, grid in zip(self.channels, self.samplings, strict=True)
        ]

    @cached_property
    def tables(self) -> list[list[Tables]]:
        """Tables of every piece."""
        depth = self.settings.transducer_depth
        return [
            [tables.build(p, self.world, depth, self.reach, grid.spread, self.settings.accuracy) for p in pieces]
            for pieces, grid in zip(self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def receivers(self) -> list[receiver.Receiver]:
        """Filters of every element."""
        return [
            receiver.build(*parts, self.settings)
            for parts in zip(self.elements, self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def scattering_layer(self) -> list[list[list[scattering_layers.Cells]]]:
        """On-grid scattering layer of every piece of an element's own channel."""
        return [
            [
                scattering_layers.build(e, table, self.world, grid, self.settings)
                for table, piece in zip(held, pieces, strict=True)
                if piece.channel.own
            ]
            for e, held, pieces, grid in zip(self.elements, self.tables, self.pieces, self.samplings, strict=True)
        ]

    @cached_property
    def scratch(self) -> Scratch:
        """Memory that jobs reuse."""
        return Scratch()

    @cached_property
    def trees(self) -> list:  # type: ignore[type-arg]
        """Box trees of things that hide."""
        from pingwright.engine.kernels.hiding import build_tree

        return [build_tree(occluder) for occluder in self.world.occluders]

    @cached_property
    def tiles(self) -> geometry.Tiles | None:
        """The seabed by tiles."""
        if self.known_tiles is not None:
            return self.known_tiles
        return None if self.world.seabed is None else geometry.Tiles(self.world.seabed, self._looks)

    @cached_property
    def _looks(self) -> tuple[Look, ...]:
        return tuple(look.look(element) for element in self.elements)

    @cached_property
    def columns(self) -> list[int]:
        """The number of each element among the looks of the tiles."""
        return [] if self.tiles is None else [self.tiles.looks.index(one) for one in self._looks]

    @cached_property
    def shadow_key(self) -> bytes:
        """Key of the discrete scatterers that never move, and of what hides them."""
        return shadows.key_of(self.discrete[0], self.world.occluders, self.tables[0][0].two_sided)

    @cached_property
    def lobes(self) -> list[NDArray[np.float64]]:
        """How far each direction lies outside each element's beam [direction cosines], see `look.lobes`."""
        return [look.lobes(element) for element in self.elements] if self.world.seabed is not None else []

    @cached_property
    def discrete(self) -> tuple[Scatterers, Swimmers]:
        """The discrete scatterers: fixed ones, and moving ones."""
        return posture.split(self.world.discrete)

    def pings_of(self, element: int) -> NDArray[np.int64]:
        """Return the pings of the track on which an element transmits."""
        return self._pings[element if self.settings.in_turn else 0]

    @cached_property
    def _pings(self) -> list[NDArray[np.int64]]:
        """The pings of the track on which each element transmits; one list for all that ping together."""
        count = len(self.elements) if self.settings.in_turn else 1
        return [np.arange(first, len(self.world.track), count) for first in range(count)]

    def redrawn(self, world: World, seed: int, *, keep: bool = True) -> "Run":
        """Return a prepared run of another draw of the same scene; seed: of its noise and layers.

        keep: whether its laws are the same, so that beams, tables and filters can be used again.
        """
        other = replace(self, world=world, settings=replace(self.settings, seed=seed))
        if keep:
            # The value of a cached property is in the instance's dictionary.
            vars(other).update({name: vars(self)[name] for name in _NOT_BY_CHANCE if name in vars(self)})
        prepare(other)
        return other

    def part(self, world: World) -> "Run":
        """Return a prepared run of a world that holds some of this one's things: tables, tiles and filters are shared.

        world: with the same laws, track and water.
        """
        other = replace(self, world=world, known_tiles=self.tiles if world.seabed is not None else None)
        vars(other).update({name: vars(self)[name] for name in (*_NOT_BY_CHANCE, "scratch")})
        prepare(other)
        return other

    def around(self, fish: NDArray[np.int64], *, ground: bool = False) -> "Run":
        """Return a prepared run of the same draw without some fish (their numbers), layers and noise.

        ground: with the seabed's first echo; else without any seabed.
        """
        left = self.world.discrete.of(np.flatnonzero(~np.isin(self.world.discrete.owner, fish)))
        seabed = self.world.seabed if ground else None
        alone = replace(self.world, discrete=left, seabed=seabed, bounce=None, scattering_layer=(), bubbles=False)
        other = replace(self, world=alone, quiet=True, known_tiles=self.tiles if ground else None)
        vars(other).update({name: vars(self)[name] for name in _NOT_BY_CHANCE if name in vars(self)})
        prepare(other)
        return other


#: Properties that do not depend on random draws.
_NOT_BY_CHANCE = ("samplings", "reach", "channels", "pieces", "tables", "receivers", "trees", "lobes")


def prepare(run: Run) -> None:
    """Compute everything that jobs share, once, in one thread."""
    _ = (run.tables, run.receivers, run.scattering_layer, run.trees, run.discrete, run.tiles, run.lobes, run.scratch)
    _refuse_what_is_no_number(run)


def linear_run(world: World, elements: tuple[Element, ...], settings: Settings, quiet: bool = False) -> Run:
    """Return the prepared run of a world whose echoes are to be stored, as they are before saturation."""
    run = Run(world, elements, settings, quiet=quiet, linear=True)
    prepare(run)
    return run


def _refuse_what_is_no_number(run: Run) -> None:
    """Raise ValueError if a table holds a value that is not a number, or if a scatterer names an unknown law.

    Kernels read tables by address: an error here would show as silence or noise much later, or end the process.
    """
    law = run.world.discrete.scatterers.law
    if len(law) and not 0 <= int(law.min()) <= int(law.max()) < len(run.world.laws):
        message = "a scatterer names a law that the world does not have"
        raise ValueError(message)
    for element, held in zip(run.elements, run.tables, strict=True):
        for table in held:
            for name in ("beam", "loss", "strength", "slowness", "gain"):
                if not np.isfinite(getattr(table, name)).all():
                    message = f"{element.name}: its table of {name} holds what is no number"
                    raise ValueError(message)
