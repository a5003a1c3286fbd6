"""A picture carries its scenario, gives it back, and is the same bytes every time."""

import io
import json
import struct
import subprocess
import sys
import zlib
from dataclasses import replace
from xml.etree import ElementTree

import pypdf
import pytest
import synthetic_record
from PIL import Image
from pingwright.errors import EchogramError
from pingwright.figures import embed, save
from pingwright.figures.compare.picture import comparison

NASTY = "--></desc><script>alert(1)</script> $\\frac{1}{0}$ & <b> ]]> \u6d77 \U0001f41f"


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=24, step=0.05)


@pytest.fixture(scope="module")
def figure(record):
    return comparison(record, synthetic_record.assessment(record))


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_every_format_gives_back_what_it_carries(record, figure, kind):
    what = embed.carried(record)
    back = embed.read(save.WRITERS[kind](figure, what, "words", 60))
    assert back == what
    assert back.scenario == record.scenario
    assert back.inputs == dict(record.inputs)


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_same_input_gives_the_same_bytes(record, kind):
    def make():
        drawn = comparison(record, synthetic_record.assessment(record))
        return save.WRITERS[kind](drawn, embed.carried(record), "words", 60)

    assert make() == make()


@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_hostile_text_stays_text(record, kind):
    bad = replace(record, title=NASTY, scenario=NASTY, inputs={NASTY: b"\0\xff"})
    drawn = comparison(bad, synthetic_record.assessment(bad))
    data = save.WRITERS[kind](drawn, embed.carried(bad), NASTY, 60)
    assert embed.read(data).scenario == NASTY
    assert embed.read(data).inputs == {NASTY: b"\0\xff"}
    if kind == "svg":
        root = ElementTree.fromstring(data)
        assert not [e for e in root.iter() if e.tag.endswith("script")]
        assert NASTY in root.find("{http://www.w3.org/2000/svg}desc").text


def test_svg_takes_signs_that_xml_forbids(figure, record):
    data = save.svg(figure, embed.carried(record), "bell\x07 and nul\0", 60)
    assert "bell\ufffd" in ElementTree.fromstring(data).find("{http://www.w3.org/2000/svg}desc").text


def test_other_programs_read_the_attachment_of_a_pdf(record, figure):
    data = save.pdf(figure, embed.carried(record), "words", 60)
    reader = pypdf.PdfReader(io.BytesIO(data), strict=True)
    assert len(reader.pages) == 1
    (content,) = reader.attachments[embed.ATTACHMENT]
    assert json.loads(content)["scenario"] == record.scenario
    assert "/CreationDate" not in reader.metadata


def test_a_pdf_saved_again_by_another_program_is_still_read(record, figure):
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(save.pdf(figure, embed.carried(record), "", 60)))
    out = io.BytesIO()
    writer.write(out)
    assert embed.read(out.getvalue()).scenario == record.scenario


def test_png_opens_elsewhere_with_its_words_and_resolution(record, figure):
    data = save.png(figure, embed.carried(record), "words for those who do not see", 300)
    picture = Image.open(io.BytesIO(data))
    picture.load()
    assert picture.text["Description"] == "words for those who do not see"
    assert "not for navigation" in picture.text["Disclaimer"]
    assert picture.info["dpi"][0] == pytest.approx(300, abs=0.1)
    width, _ = figure.get_size_inches()
    assert picture.width == int(width * 300)


def test_inputs_up_to_the_limit_are_carried_and_the_rest_is_named(record, figure):
    big = replace(
        record, inputs={"small.csv": b"1" * 10, "big.stl": bytes(range(256)) * 8000, "huge.stl": b"0" * 10**6}
    )
    what = embed.carried(big)
    assert what.missing == ("big.stl",)
    back = embed.read(save.png(figure, what, "", 40))
    assert back.missing == ("big.stl",)
    assert set(back.inputs) == {"small.csv", "huge.stl"}
    Image.open(io.BytesIO(save.png(figure, what, "", 40))).load()


def test_a_page_in_the_agreed_form_is_read():
    body = {"version": "1", "seed": 3, "scenario": "a < b", "inputs": {"x.csv": "YQ=="}, "missing": ["y"]}
    text = json.dumps(body).replace("<", "\\u003c")
    page = f'<!doctype html><html><script type="application/json" id="pingwright-scenario">{text}</script></html>'
    assert embed.read(page.encode()) == embed.Carried("1", 3, "a < b", {"x.csv": b"a"}, ("y",))


def png_of(text, compressed=True):
    raw = zlib.compress(text) if compressed else text
    body = embed.KEY.encode() + b"\0" + bytes([compressed]) + b"\0\0\0" + raw
    return b"\x89PNG\r\n\x1a\n" + struct.pack(">I4s", len(body), b"iTXt") + body + b"\0\0\0\0"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        b"\x89PNG\r\n\x1a\n",
        b"\x89PNG\r\n\x1a\n\xff\xff\xff\xffiTXt",
        b"%PDF-1.4\n",
        b"<svg></svg>",
        b"<!doctype html>",
        png_of(b"[1, 2]"),
        png_of(b'{"version": 1, "seed": "x", "scenario": 2, "inputs": {}}'),
        png_of(b'{"version": "1", "seed": 1, "scenario": "", "inputs": {"a": "%%%"}}'),
        png_of(b"[" * 100_000),
        png_of(b"not deflated", compressed=True)[:60],
    ],
)
def test_what_is_not_ours_is_refused_in_words(data):
    with pytest.raises(EchogramError, match="no scenario can be read"):
        embed.read(data)


def test_a_small_file_that_unpacks_to_very_much_is_refused():
    bomb = png_of(b" " * (embed.READ_LIMIT + 1000))
    assert len(bomb) < 100_000
    with pytest.raises(EchogramError, match="more than 8 MB"):
        embed.read(bomb)


def test_save_writes_a_whole_file_and_refuses_other_endings(tmp_path, figure, record):
    save.save(figure, tmp_path / "a.PNG", embed.carried(record), "", 40)
    assert embed.read((tmp_path / "a.PNG").read_bytes()).seed == 11
    with pytest.raises(ValueError, match=r"\.png, \.svg or \.pdf"):
        save.save(figure, tmp_path / "a.jpg", embed.carried(record))


def test_reading_a_picture_needs_no_drawing_library():
    code = "import pingwright.figures.embed, sys\n"
    code += "sys.exit(bool({'matplotlib', 'PIL', 'numba', 'h5py'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_drawing_needs_no_engine_and_no_window(tmp_path):
    code = (
        "import sys; sys.path.insert(0, 'tests'); import synthetic_record as s\n"
        "from pingwright.figures.compare.picture import comparison\n"
        "r = s.record(8, 0.2); comparison(r, s.assessment(r))\n"
        "bad = {'numba', 'matplotlib.pyplot', 'tkinter', 'pingwright.engine', 'pingwright.world'} & set(sys.modules)\n"
        "sys.exit(str(bad) if bad else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
