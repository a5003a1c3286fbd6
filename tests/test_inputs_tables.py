"""Profile, bottom grid and pattern table files."""

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pingwright.errors import ScenarioError
from pingwright.inputs import scenario
from pingwright.inputs.tables import MOST_ROWS, TableFaultsError, read_grid, read_pattern, read_profile

PROFILE = b"depth,temperature,salinity\n0,14,34\n20,11,34.5\n60,9,35\n"


def grid(skip: tuple[int, int] | None = None) -> bytes:
    rows = [f"{x},{y},{40 + x / 10 + y / 100}" for x in (-50, 0, 50) for y in (-20, 20) if (x, y) != skip]
    return ("x,y,depth\n" + "\n".join(rows)).encode()


def pattern(frequencies: tuple[float, ...] = (130e3, 210e3), angles: tuple[float, ...] = (-10, 0, 10)) -> bytes:
    rows = [f"{f},{a},{b},{-(a * a + b * b) / 9:.3f}" for f in frequencies for a in angles for b in angles]
    return ("frequency,angle_along,angle_across,level\n" + "\n".join(rows)).encode()


def refusal(read: object, content: bytes) -> tuple[int, str, str]:
    with pytest.raises(TableFaultsError) as caught:
        read(content, "file.csv")  # type: ignore[operator]
    fault = caught.value.faults[0]
    assert fault.file == "file.csv"
    return fault.line, fault.path, fault.message


def test_profile_is_read() -> None:
    depth, temperature, salinity = read_profile(PROFILE, "w.csv")
    assert (depth, temperature, salinity) == ((0, 20, 60), (14, 11, 9), (34, 34.5, 35))


def test_columns_may_stand_in_any_order_with_units_blank_lines_and_comments() -> None:
    text = b"# measured at noon\n\nSalinity, depth ,temperature\n34, 0 m,57.2 degF\n\n35,10 fathoms,9\n"
    depth, temperature, salinity = read_profile(text, "w.csv")
    assert depth == (0.0, 18.288)
    assert temperature == pytest.approx((14.0, 9.0))
    assert salinity == (34.0, 35.0)


def test_grid_is_read_whatever_the_order_of_its_rows() -> None:
    head, *rows = grid().split(b"\n")
    x, y, depth = read_grid(b"\n".join([head, *reversed(rows)]), "g.csv")
    assert x == (-50, 0, 50)
    assert y == (-20, 20)
    assert depth[1][2] == 45.2
    assert len(depth) == len(y)


def test_pattern_is_read() -> None:
    frequency, along, across, level = read_pattern(pattern(), "p.csv")
    assert frequency == (130e3, 210e3)
    assert along == across == (-10, 0, 10)
    assert level[0][4] == 0.0
    assert level[1][2] == -22.222


@pytest.mark.parametrize(
    ("read", "content", "line", "path", "words"),
    [
        (read_profile, b"", 0, "", "no rows"),
        (read_profile, b"depth,temperature,salinity\n", 0, "", "no rows"),
        (read_profile, b"depth;temperature;salinity\n0;1;2\n", 1, "", "separate columns with commas"),
        (read_profile, b"depth,temp,salinity\n0,1,2\n", 1, "", "allowed: depth,temperature,salinity"),
        (read_profile, PROFILE.replace(b"11", b""), 3, "temperature", "empty cell; every cell needs a value"),
        (read_profile, PROFILE.replace(b"11", b"eleven"), 3, "temperature", "eleven"),
        (read_profile, PROFILE.replace(b"11", b"nan"), 3, "temperature", "nan"),
        (read_profile, PROFILE.replace(b"11", b"1e400"), 3, "temperature", "finite"),
        (read_profile, PROFILE.replace(b"11", b"=1+1"), 3, "temperature", "=1+1"),
        (read_profile, PROFILE.replace(b"11", b"52"), 3, "temperature", 'did you mean "52 degF"'),
        (read_profile, PROFILE.replace(b"34.5", b"345"), 3, "salinity", "0 g/kg to 45 g/kg"),
        (read_profile, PROFILE.replace(b"20,11", b"60,11"), 4, "depth", "depths that rise"),
        (read_profile, PROFILE.replace(b"20,", b"20,,"), 3, "", "as in the header"),
        (read_profile, PROFILE + b"\x00", 5, "", "U+0000"),
        (read_profile, PROFILE.replace(b"11", b"\xff"), 3, "", "not UTF-8"),
        (read_grid, grid(skip=(0, 20)), 4, "x", "no gaps"),
        (read_grid, grid() + b"\n0,20,40", 8, "", "again"),
        (read_grid, grid().replace(b"45.2", b"-3"), 7, "depth", "30 cm to 3000 m"),
        (read_grid, b"x,y,depth\n0,0,40\n10,0,41\n", 0, "y", "two or more"),
        (read_pattern, pattern(angles=(-0.17, 0, 0.17)), 4, "angle_along", "radians"),
        (read_pattern, pattern(frequencies=(130, 210)), 2, "frequency", 'did you mean "130 kHz"'),
        (read_pattern, pattern(angles=(-120, 0, 120)), 2, "angle_along", "-90 deg to 90 deg"),
        (read_pattern, pattern().replace(b"-22.222", b"22.222"), 2, "level", "-200 dB to 3 dB"),
        (read_pattern, pattern().replace(b"130000.0,0,10,-11.111\n", b""), 5, "angle_along", "no gaps"),
    ],
)
def test_faults_name_line_and_column(read: object, content: bytes, line: int, path: str, words: str) -> None:
    found = refusal(read, content)
    assert found[:2] == (line, path)
    assert words in found[2]


def test_rows_are_limited() -> None:
    rows = b"\n".join(f"{z / 100},10,35".encode() for z in range(MOST_ROWS["profile"] + 1))
    assert "allowed in a profile: 10000" in refusal(read_profile, b"depth,temperature,salinity\n" + rows)[2]


def test_repeated_faults_are_told_once() -> None:
    with pytest.raises(TableFaultsError) as caught:
        read_pattern(pattern(frequencies=(130,)), "p.csv")
    assert len(caught.value.faults) == 1
    assert "8 more like it" in caught.value.faults[0].message


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=200) | st.text("0123456789.,-e\n #xyzdepth", max_size=200).map(str.encode))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    for read, head in ((read_profile, b""), (read_grid, b"x,y,depth\n"), (read_profile, PROFILE)):
        with contextlib.suppress(TableFaultsError):  # read or refused: anything else comes out and fails the test
            read(head + content, "file.csv")


def test_tables_reach_the_scenario() -> None:
    text = """title = "t"
[water]
profile = "w.csv"
[[element]]
name = "e"
use = "high-pencil"
face = { shape = "table", file = "p.csv" }
[seabed]
grid = "g.csv"
[[seabed.layer]]
sediment = "mud"
"""
    files = {"w.csv": PROFILE, "p.csv": pattern(), "g.csv": grid()}
    s = scenario.parse(text, "t.toml", files)
    assert s.inputs == files
    assert s.seabed.grid is not None
    assert s.seabed.grid.depth[0][0] == 34.8
    assert s.element[0].face.pattern.frequency == (130e3, 210e3)  # type: ignore[union-attr]
    assert scenario.parse(scenario.to_toml(s), "again.toml", files) == s
    with pytest.raises(ScenarioError) as caught:
        scenario.parse(text, "t.toml", {**files, "g.csv": grid(skip=(0, 20)), "w.csv": b"x"})
    assert {fault.file for fault in caught.value.faults} == {"g.csv", "w.csv"}
