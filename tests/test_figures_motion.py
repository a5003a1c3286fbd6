"""The moving picture: short enough to post, grows ping by ping, carries its scenario."""

import io
from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from PIL import Image
from pingwright import words
from pingwright.figures import embed, motion


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=30, step=0.05)


@pytest.fixture(scope="module", params=["png", "gif"])
def moving(record, request):
    return request.param, motion.motion(record, synthetic_record.assessment(record), request.param, frames=12)


def frames(data):
    with Image.open(io.BytesIO(data)) as picture:
        out = []
        still = getattr(picture, "default_image", False)  # an animated PNG has one for those who cannot see it move
        for index in range(int(still), picture.n_frames):
            picture.seek(index)
            out.append(np.asarray(picture.convert("RGB")).astype(int))
        return out


def test_size_and_number_of_frames(moving):
    _, data = moving
    assert len(data) < 6_000_000
    shown = frames(data)
    assert len(shown) == 12
    assert shown[0].shape == (540, 960, 3)


def test_echograms_grow_and_beams_sweep(moving):
    _, data = moving
    shown = frames(data)
    right = [frame[60:470, 520:900] for frame in shown]
    bright = [(frame.sum(axis=2) > 300).sum() for frame in right]
    assert all(later >= earlier for earlier, later in zip(bright, bright[1:], strict=False))
    assert bright[-1] > 3 * bright[0]
    # The boat stands above the water in the left half: its middle moves to the right from frame to frame.
    places = [np.flatnonzero((f[86:100, 60:430] > 200).all(axis=2).any(axis=0)).mean() for f in shown[2:-2]]
    assert all(np.diff(places) > 0)


def test_what_was_drawn_stays(moving):
    _, data = moving
    shown = frames(data)
    # The first column of the lowest echogram, all frames from the second on.
    columns = np.array([frame[375:460, 521] for frame in shown[1:]])
    assert (columns == columns[0]).all()


def test_where_it_cannot_move_all_is_shown(record):
    data = motion.motion(record, synthetic_record.assessment(record), "png", frames=4)
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.default_image
        still = np.asarray(picture.convert("RGB"))
    assert np.array_equal(still, frames(data)[-1])


def test_the_caption_holds_the_answer_and_an_anchored_boat_stays(record):
    judged = synthetic_record.assessment(record)
    said = motion.caption(record, judged)
    assert words.answer(judged, record) in said
    assert "30 pings" in said
    still = tuple(replace(e, x=np.zeros(e.pings)) for e in record.elements)
    assert "lies at anchor" in motion.alt(replace(record, elements=still))
    assert "passes from left to right" in motion.alt(record)


def test_a_moving_png_carries_its_scenario(record):
    data = motion.motion(record, synthetic_record.assessment(record), "png", frames=3)
    assert embed.read(data) == embed.carried(record)


def test_the_same_input_gives_the_same_bytes(record):
    judged = synthetic_record.assessment(record)
    assert motion.motion(record, judged, "gif", frames=4) == motion.motion(record, judged, "gif", frames=4)


def test_frames_are_dropped_before_the_file_grows_too_large(record, monkeypatch):
    monkeypatch.setattr(motion, "LIMIT", 150_000)
    data = motion.motion(record, synthetic_record.assessment(record), "gif", frames=30)
    assert len(frames(data)) < 30


def test_other_kinds_are_refused(record):
    with pytest.raises(ValueError, match="png or gif"):
        motion.motion(record, synthetic_record.assessment(record), "mp4")


def test_alternative_text_names_the_elements(record):
    assert "narrow high, wide high and low" in motion.alt(record)
