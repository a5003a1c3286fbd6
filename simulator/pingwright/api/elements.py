"""ElementRecording: what one element recorded, its axes and what can be read from it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from pingwright.api import datasets
from pingwright.api.markup import SYNTHETIC, shortened, table
from pingwright.echograms.record import OWNERS, ElementRecord

if TYPE_CHECKING:
    import xarray as xr

    from pingwright.api.recording import Recording

FloatArray = NDArray[np.float64]


class ElementRecording:
    """What one element recorded: levels (ping, sample) and their axes."""

    def __init__(self, element: ElementRecord, of: "Recording") -> None:
        self._element, self._of = element, of

    @property
    def name(self) -> str:
        """The element's name."""
        return self._element.info.name

    @property
    def attributes(self) -> dict[str, Any]:
        """Numbers and words that describe the element in this run; their units stand in the file's guide.

        band_low, band_high [Hz], pulse_length [s], source_level [dB re 1 uPa m], absorption [dB/m], beamwidth_along
        [deg], equivalent_beam_angle [dB re 1 sr], effective_pulse [s], noise_level [dB re 1 uPa] and more.
        """
        from dataclasses import asdict

        fields = asdict(self._element.info)
        return {**{k: v for k, v in fields.items() if k not in {"extra", "slug", "position"}}, **fields["extra"]}

    @property
    def time(self) -> FloatArray:
        """Time since the start of the run [s] (ping)."""
        return np.asarray(self._element.ping_time)

    @property
    def x(self) -> FloatArray:
        """Position of the boat along the track [m] (ping)."""
        return np.asarray(self._element.x)

    @property
    def range(self) -> FloatArray:
        """Range from the transducer [m] (sample): assumed sound speed x time / 2."""
        return np.asarray(self._element.range)

    @property
    def depth(self) -> FloatArray:
        """Depth at which each sample is drawn [m] (sample): range plus the depth of the transducer."""
        return np.asarray(self._element.range + self._element.info.transducer_depth)

    @property
    def level(self) -> NDArray[np.float32]:
        """Received level [dB re 1 uPa] (ping, sample), nan where blind."""
        return self._values("level")

    @property
    def ts(self) -> NDArray[np.float32]:
        """Echo strength [dB re 1 m2] (ping, sample), nan where blind: of a single echo on the axis its target strength.

        Calibrated over the band: a target that echoes alike over it is read within 0.01 dB, between samples.
        """
        return self._values("ts")

    @property
    def sv(self) -> NDArray[np.float32]:
        """Volume backscattering strength [dB re 1 m-1] (ping, sample), nan where blind; average it as power.

        Calibrated over the band: the mean of a layer that echoes alike over it is read within 0.05 dB.
        """
        return self._values("sv")

    @property
    def echo(self) -> NDArray[np.complex64]:
        """Complex output of the matched filter [uPa] (ping, sample), nan where blind. ValueError without the phase."""
        return self._values("echo")

    @property
    def owner(self) -> NDArray[np.int8]:
        """Kind of thing that dominates each sample (ping, sample): an index into `owners`, -1 where blind.

        It is the kind whose echo alone, before noise, has the most power there, or noise if its mean power is larger.
        ValueError if that was not computed (simulate with truth="samples", or run --truth samples).
        """
        return datasets.owner(self._element, self._of._record.truth)

    owners = OWNERS

    def _values(self, quantity: str) -> NDArray[Any]:
        return datasets.values(self._element, quantity, lambda: self._of._resolved)

    def to_xarray(self, *quantities: str) -> "xr.Dataset":
        """Return quantities as an xarray Dataset: "level" (default), "ts", "sv", "echo" (phase kept), "owner" (truth).

        Dimensions ping and sample; coordinates x [m] and time [s] (ping), range and depth [m] (sample); units and,
        where CF has them, standard names; nan where blind. Needs xarray (extra `notebook`).
        ValueError for unknown quantities.
        """
        from pingwright.echograms.layout import COMMENT

        about = {k: v for k, v in self.attributes.items() if isinstance(v, str | int | float)}
        about |= {"title": self._of.title, "comment": COMMENT, "seed": self._of.seed}
        return datasets.dataset(
            self._element, quantities or ("level",), about, self._of._record.truth, lambda: self._of._resolved
        )

    def strongest(self, range: tuple[float, float]) -> "xr.Dataset":
        """Return the strongest echo between two ranges [m] in each ping, read between samples, as an xarray Dataset.

        Dimension ping; ts [dB re 1 m2]: its echo strength, on the beam's axis its target strength; range and depth [m]
        of its peak; coordinates x and time. The highest sample alone reads up to 0.4 dB too low. Needs xarray (extra
        `notebook`). ValueError if the ranges are not two, or no sample that is not blind lies between them.
        """
        return datasets.strongest(self._element, range, lambda: self._of._resolved)

    def spectrum(self, range: tuple[float, float], pings: slice | Sequence[int] | None = None) -> "xr.Dataset":
        """Return the strength of what lies between two ranges over frequency, as an xarray Dataset.

        range: two ranges [m] outside the blanking range, around one echo and its ringing, or inside a layer. pings:
        which (default all), as a slice or a list of numbers from 0. Dimensions ping and frequency [Hz], where the
        filter passes at least a tenth (amplitude) of its maximum; spacing at most 1 / (4 x duration of the window). ts
        [dB re 1 m2]: of a single target on the beam's axis its target strength; sv [dB re 1 m-1]: of what fills the
        beam, averaged as power over pings. Source level, beam angle and absorption at each frequency are those of the
        element; the edges of the window are sharp, and ringing beyond them is lost. Needs the phase and xarray.
        ValueError without the phase (keep_phase=True), or if the ranges are not in the recording.
        """
        from pingwright.api.spectra import spectrum

        return spectrum(self._element, self._of._prepared, range, pings)

    def refilter(
        self, *, weighting: str | None = None, filter: Literal["matched", "equalised"] | None = None
    ) -> "ElementRecording":
        """Return the same pings through another filter: what the element would have shown with it.

        weighting: "none", "tukey", "hann", "hamming", "blackman" or "taylor"; filter as in a scenario; if left out,
        unchanged. It works on the kept phase, in the spectrum, without simulating. Error against simulating with that
        filter, as energy: below -75 dB of an echo, -45 dB of the water, from any weighting to one that is 0 at the ends
        of the band (hann, blackman, tukey), -40 dB of an echo to one that is not (peaks within 0.01 dB). Frequencies
        with a weighting of 0 are lost: from hann to none the water between echoes misses up to 2 dB, so simulate with
        weighting none to compare others. Echoes within a pulse length of the blanking range and of the record's end
        differ; saturation and short words stay. ValueError without the phase; ScenarioError for an unknown name.
        """
        return self._of._refiltered(self._element, {"weighting": weighting, "filter": filter})

    def __repr__(self) -> str:
        """Return one short line."""
        return f"<ElementRecording {shortened(self.name)!r}: {len(self.x)} pings, {len(self.range)} samples>"

    def _repr_html_(self) -> str:
        rows = [(key, f"{v:.5g}" if isinstance(v, float) else str(v)) for key, v in self.attributes.items()]
        return table(f"Element: {shortened(self.name, 120)}", rows, SYNTHETIC)
