"""The echoes of one kind of thing in a recording, by superposition."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pingwright.echograms import levels
from pingwright.echograms.record import FILL_VALUE, Record

if TYPE_CHECKING:
    from pingwright.inputs.scenario import Scenario

KINDS = ("fish", "school", "scattering_layer", "target", "structure")


def component(scenario: "Scenario", kind: str) -> Record:
    """Return the record of the difference between a scenario's echoes with and without one kind, both without noise.

    Levels [dB re 1 uPa] are those of the difference. The other echoes cancel, except for rounding in single precision:
    of a bottom echo of 140 to 151 dB, at most 24 dB was left (measured on a lake).
    """
    from pingwright import recording

    if kind not in KINDS:
        message = f"unknown kind {kind!r}; there are {', '.join(KINDS)}"
        raise ValueError(message)
    without = scenario.model_copy(update={kind: ()})
    whole, rest = (
        recording.in_memory(recording.prepare(one), keep_phase=True, quiet=True) for one in (scenario, without)
    )
    elements = []
    for a, b in zip(whole.elements, rest.elements, strict=True):
        blind = np.isnan(a.echo) | np.isnan(b.echo)
        echo = np.where(blind, 0, a.echo - b.echo).astype(np.complex64)
        level = levels.pack(echo)
        level[blind] = FILL_VALUE
        echo[blind] = np.nan
        elements.append(replace(a, echo_level=level, echo=echo))
    return replace(whole, elements=tuple(elements))
