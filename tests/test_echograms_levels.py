import numpy as np
import pytest
from pingwright.echograms import levels
from pingwright.echograms.memory import Gatherer
from pingwright.echograms.record import ADD_OFFSET, LIMIT, SCALE_FACTOR
from tests_made import header, held, write_all


def test_levels_come_back_within_half_a_step():
    rng = np.random.default_rng(1)
    amplitude = 10 ** rng.uniform(-10.5, 18.5, 200_000)  # -210 to 370 dB, inside what single precision squares
    values = (amplitude * np.exp(2j * np.pi * rng.uniform(size=amplitude.size))).astype(np.complex64)
    expected = 20 * np.log10(np.abs(values.astype(np.complex128)))
    found = levels.unpack(levels.pack(values)).astype(np.float64)
    # Half a step, single precision of the logarithm at 37 (4e-6 of it, times 10), and of the unpacked number itself.
    assert np.max(np.abs(found - expected)) <= SCALE_FACTOR / 2 + 2e-4


@pytest.mark.parametrize(
    ("value", "stored"),
    [
        (0.0, -LIMIT),
        (1e-15, -LIMIT),
        (np.inf, LIMIT),
        (10 ** (ADD_OFFSET / 20), 0),
        (10 ** ((ADD_OFFSET + 1) / 20), 100),
    ],
)
def test_silence_is_the_lowest_and_loudness_is_clipped(value, stored):
    assert levels.pack(np.array([value], dtype=np.complex64))[0] == stored


def test_what_is_not_a_number_is_our_bug():
    with pytest.raises(ValueError, match="not a number"):
        levels.pack(np.array([1.0, np.nan], dtype=np.complex64))


def test_memory_holds_what_the_file_would(tmp_path):
    from pingwright.echograms.file import Writer, read

    made = header()
    gatherer = Gatherer(made, keep_phase=True)
    with pytest.raises(ValueError, match="never written"):
        gatherer.record()
    write_all(gatherer, made, keep_phase=True)
    with Writer(tmp_path / "echograms.h5", made, keep_phase=True) as writer:
        write_all(writer, made, keep_phase=True)
    stored, kept = read(tmp_path / "echograms.h5"), gatherer.record()
    for a, b in zip(stored.elements, kept.elements, strict=True):
        assert np.array_equal(a.level(), b.level())
        assert np.array_equal(a.echo[:], b.echo, equal_nan=True)
        assert np.array_equal(a.echo[:], held(made, a.info.position)[1], equal_nan=True)
