"""The page in a real browser: what a reader sees, points at, presses; and that it never asks for anything."""

import json
import shutil
import time
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import pytest
import synthetic_record
from pingwright import palette
from pingwright.page import cells
from pingwright.page.build import build
from test_page_build import NASTY, spoiled

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")

pytestmark = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="needs chromium and its driver")

FLAGS = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--window-size=1400,1000",
]


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in [*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"]:
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("pages")


@pytest.fixture(scope="module")
def record():
    return synthetic_record.record(pings=400, step=0.01)


@pytest.fixture(scope="module")
def page(folder, record):
    path = folder / "compare.html"
    path.write_text(build(record, synthetic_record.assessment(record)), encoding="utf-8")
    return path


@pytest.fixture
def opened(browser, page):
    return visit(browser, page)


def visit(browser, path, *, dark=False, media="", width=1400, height=1000):
    emulate(browser, dark=dark, media=media, width=width, height=height)
    for kind in ("browser", "performance"):
        browser.get_log(kind)
    browser.get(path.as_uri())
    wait(browser, "return document.body.dataset.state !== 'opening'")
    assert browser.execute_script("return document.body.dataset.state") == "ready", browser.get_log("browser")
    settle(browser)
    return browser


def emulate(browser, *, dark=False, media="", width=1400, height=1000):
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": scheme})


def wait(browser, script, seconds=10.0):
    end = time.monotonic() + seconds
    while not browser.execute_script(script):
        assert time.monotonic() < end, script
        time.sleep(0.03)


def settle(browser):
    """Wait until the drawing asked for has been done: two frames of the browser's own clock."""
    browser.execute_async_script(
        "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 30)))"
    )


def views(browser):
    return browser.execute_script("return pingwright.pictures.map((p) => p.range)")


def complaints(browser):
    return [e for e in browser.get_log("browser") if e["level"] not in {"INFO", "DEBUG"}]


def requests(browser):
    found = []
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            found.append(message["params"]["request"]["url"])
        assert not message["method"].startswith("Network.webSocketCreated")
    return found


@contextmanager
def fresh(browser, path, **how):
    yield visit(browser, path, **how)
    emulate(browser)


def test_it_opens_without_an_error_or_a_request(opened, page):
    assert complaints(opened) == []
    assert [u for u in requests(opened) if not u.startswith(("data:", "blob:"))] == [page.as_uri()]
    assert opened.execute_script("return performance.getEntriesByType('resource').length") == 0


def test_its_policy_stops_what_it_never_does(opened):
    """The browser itself refuses a request and a script the page did not name, so a slip cannot reach the network."""
    refused = opened.execute_async_script(
        "const done = arguments[0];fetch('http://127.0.0.1:9/').then(() => done('sent'), () => done('refused'));"
    )
    assert refused == "refused"
    opened.execute_script(
        "const s = document.createElement('script'); s.textContent = 'window.slipped = 1'; document.body.append(s)"
    )
    assert opened.execute_script("return window.slipped") is None
    opened.get_log("browser")


def test_it_is_small_and_ready_within_three_seconds(browser, page):
    assert page.stat().st_size < 8e6
    visit(browser, page)
    assert browser.execute_script("return pingwright.readyAfter") < 3000


def places(record, count=60):
    """Fish, bottom and random places of every element: (element, x, depth)."""
    random = np.random.default_rng(8)
    for index, element in enumerate(record.elements):
        fish = record.truth.fish
        yield from ((index, float(x), float(z)) for x, z in zip(fish.x, fish.apparent_depth[index], strict=True))
        for _ in range(count):
            yield index, float(random.uniform(-30, 30)), float(random.uniform(0.7, 69.5))
        yield index, float(element.x[3]), 58.0


@pytest.mark.parametrize("zoom", [0, 4, 12])
def test_the_read_out_equals_the_file(opened, record, zoom):
    for _ in range(zoom):
        opened.execute_script("pingwright.act('in')")
    settle(opened)
    asked = list(places(record))
    found = opened.execute_script("return arguments[0].map(([i, x, z]) => pingwright.readout(i, x, z))", asked)
    for (index, x, depth), read in zip(asked, found, strict=True):
        element = record.elements[index]
        pings = slice(read["firstPing"], read["firstPing"] + read["pings"])
        samples = slice(read["firstSample"], read["firstSample"] + read["samples"])
        truth = float(element.echo_strength(pings, samples).max())
        assert abs(read["level"] - truth) <= cells.STEP / 2 + 1e-3
        half = (element.x[1] - element.x[0]) / 2
        assert element.x[pings][0] - half <= x <= element.x[pings][-1] + half
        drawn = element.range[samples] + element.info.transducer_depth
        assert drawn[0] - 0.006 <= depth <= drawn[-1] + 0.006
        assert drawn[0] - 0.006 <= read["depth"] <= drawn[-1] + 0.006


def test_zoomed_in_far_enough_a_cell_is_a_stored_one(opened, record):
    for _ in range(14):
        opened.execute_script("pingwright.act('in')")
    settle(opened)
    by = opened.execute_script("return pingwright.pictures.map((p) => p.by)")
    assert all(b == {"across": 1, "down": 1} for b in by)


def test_what_is_painted_is_the_level_through_the_palette(opened, record):
    """Pixels in the middle of drawn cells against the read-out there, through the palette of the light sheet."""
    opened.execute_script("document.getElementById('truth').click()")
    settle(opened)
    asked = [[i, x, z] for i, x, z in places(record, 30)]
    found = opened.execute_script(
        """return arguments[0].map(([i, x, z]) => {
          const p = pingwright.pictures[i];
          const middle = (v, from, size, by) => from + (Math.floor((v - from) / size / by) + 0.5) * size * by;
          const at = {x: middle(x, p.cells.left, p.cells.width, p.by.across),
            y: middle(z, p.cells.top, p.cells.height, p.by.down)};
          const sx = p.view.frame.x_scale.compute(at.x), sy = p.view.frame.y_scale.compute(at.y);
          const canvas = p.view.canvas.primary.canvas;
          // bokeh draws everything half a pixel to the right and down, for crisp lines
          const ratio = p.view.canvas.pixel_ratio;
          const [px, py] = [sx, sy].map((s) => Math.floor((s + 0.5) * ratio));
          const rgb = canvas.getContext('2d').getImageData(px, py, 1, 1).data;
          const here = pingwright.readout(i, at.x, at.y);
          return here && {level: here.level, rgb: [...rgb].slice(0, 3)};
        })""",
        asked,
    )
    table = np.rint(palette.level_table("light") * 255)
    compared, far = 0, 0
    for read in filter(None, found):
        entry = palette.entry(np.array(read["level"]), *palette.LEVEL_LIMITS)
        compared += 1
        far += bool(np.abs(table[entry] - read["rgb"]).max() > 1)
    assert compared > 90
    assert far == 0


def test_zoom_and_pan_are_linked(opened):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.actions.wheel_input import ScrollOrigin
    from selenium.webdriver.common.by import By

    home = views(opened)
    assert home[0] == home[1] == home[2]
    plot = opened.find_element(By.ID, "picture-1")
    opened.execute_script("arguments[0].scrollIntoView({block: 'center'})", plot)
    ActionChains(opened).scroll_from_origin(ScrollOrigin.from_element(plot), 0, -400).perform()
    wait(opened, f"return pingwright.pictures[1].range.y1 !== {home[1]['y1']}")
    settle(opened)
    zoomed = views(opened)
    assert zoomed[0] == zoomed[1] == zoomed[2]
    assert zoomed[0]["x1"] - zoomed[0]["x0"] < home[0]["x1"] - home[0]["x0"]
    ActionChains(opened).move_to_element(plot).click_and_hold().move_by_offset(-40, 0).move_by_offset(
        -40, -30
    ).release().perform()
    settle(opened)
    moved = views(opened)
    assert moved[0] == moved[1] == moved[2]
    assert moved[0]["x0"] > zoomed[0]["x0"]
    pictures = opened.execute_script(
        "return pingwright.pictures.map((p) => { const d = p.image.data_source.data; return [d.x[0], d.dw[0]] })"
    )
    for (x, dw), view in zip(pictures, moved, strict=True):
        assert x <= view["x0"] + 1e-9
        assert x + dw >= view["x1"] - 1e-9
        assert dw < 1.2 * (view["x1"] - view["x0"])
    strips = opened.execute_script("return pingwright.strips.map((p) => p.range)")
    assert {(s["x0"], s["x1"]) for s in strips} == {(moved[0]["x0"], moved[0]["x1"])}


def test_the_pointer_reads_every_panel_at_once(opened, record):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.by import By

    plot = opened.find_element(By.ID, "picture-0")
    ActionChains(opened).move_to_element_with_offset(plot, 30, 60).perform()
    settle(opened)
    point = opened.execute_script("return pingwright.point")
    where = opened.find_element(By.ID, "where").text
    assert f"{point['y']:.2f}" in where
    for index in range(3):
        read = opened.execute_script("return pingwright.readout(...arguments)", index, point["x"], point["y"])
        shown = opened.find_element(By.ID, f"read-{index}").text.replace("\u2212", "-").replace("\u00a0", " ")
        assert shown.startswith(f"{read['level']:.1f} dB at {read['depth']:.2f} m")
        assert f"maximum of {read['pings']} \u00d7 {read['samples']} samples" in shown
    assert opened.execute_script("return document.querySelectorAll('#picture-2 .hair:not([hidden])').length") == 2


def test_feet_are_feet(opened, record):
    """1 ft = 0.3048 m exactly (international foot, 1959)."""
    opened.execute_script("document.querySelector('input[value=ft]').click()")
    settle(opened)
    ticks = opened.execute_script(
        "const a = pingwright.pictures[0].model.left[0];"
        "return [a.axis_label, a.ticker.ticks, a.ticker.ticks.map((t) => a.major_label_overrides.get(t))]"
    )
    assert ticks[0] == "Depth [ft]"
    assert len(ticks[1]) >= 4
    for metres, label in zip(ticks[1], ticks[2], strict=True):
        assert abs(metres / 0.3048 - float(label)) < 1e-6
    shown = opened.execute_script(
        "return [...document.querySelectorAll('.length')].map((e) => [Number(e.dataset.m), e.textContent])"
    )
    assert len(shown) > 20
    for metres, text in shown:
        value, unit = text.replace("\u2212", "-").split("\u00a0")
        assert unit == ("in" if 0 < abs(metres) < 0.3048 else "ft")  # an inch is 25.4 mm exactly
        digits = len(value.partition(".")[2])
        assert abs(float(value) - metres / {"in": 0.0254, "ft": 0.3048}[unit]) <= 0.5000001 * 10**-digits


def test_turning_back_to_metres_says_again_what_the_page_was_written_with(opened):
    told = "return [...document.querySelectorAll('.length')].map((e) => e.textContent)"
    before = opened.execute_script(told)
    for unit in ("ft", "m"):
        opened.execute_script(f"document.querySelector('input[value={unit}]').click()")
        settle(opened)
        assert (opened.execute_script(told) == before) == (unit == "m")


def test_marks_stand_in_the_strips_too_at_their_height_above_the_pick(opened, record):
    found = synthetic_record.assessment(record)
    script = (
        "return pingwright.strips.map((p) => Object.fromEntries("
        "p.model.renderers.filter((r) => r.name.endsWith('-line'))"
        ".map((r) => [r.name.slice(0, -5), Array.from(r.data_source.data.y)])))"
    )
    for judged, shown in zip(found.elements, opened.execute_script(script), strict=True):
        off = judged.fish_range - judged.bottom_range[judged.fish_ping]
        for mark, places in shown.items():
            wanted = [o for o, m in zip(off, judged.mark, strict=True) if m == mark and np.isfinite(o)]
            assert np.allclose(places, wanted)


def test_truth_marks_can_be_put_away(opened, record):
    found = synthetic_record.assessment(record)
    script = (
        "return pingwright.pictures.map((p) => Object.fromEntries("
        "p.model.renderers.filter((r) => r.name.endsWith('-line'))"
        ".map((r) => [r.name.slice(0, -5), r.visible ? Array.from(r.data_source.data.x).length : 0])))"
    )
    assert opened.execute_script(script) == [dict(e.counts) for e in found.elements]
    opened.execute_script("document.getElementById('truth').click()")
    settle(opened)
    assert opened.execute_script(script) == [{"separated": 0, "merged": 0, "not_shown": 0}] * 3


def test_the_level_range_moves_the_colours(opened):
    opened.execute_script(
        "const low = document.getElementById('low'); low.value = -90; low.dispatchEvent(new Event('input'))"
    )
    limits = opened.execute_script(
        "return pingwright.all.map((p) => [p.image.glyph.color_mapper.low, p.image.glyph.color_mapper.high])"
    )
    assert limits == [[-90, -5]] * 6
    opened.execute_script(
        "const low = document.getElementById('low'); low.value = 15; low.dispatchEvent(new Event('input'))"
    )
    assert opened.execute_script("return Number(document.getElementById('low').value)") == -10


@pytest.mark.parametrize("width", [320, 390, 768])
def test_a_phone_needs_no_sideways_scroll(browser, page, width):
    with fresh(browser, page, width=width, height=844):
        wide = browser.execute_script(
            "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
        )
        assert wide[0] <= wide[1] <= width
        boxes = browser.execute_script(
            "return [...document.querySelectorAll('.panel')].map((p) => p.getBoundingClientRect())"
            ".map((b) => [b.left, b.top, b.width])"
        )
        assert all(left >= 0 and left + size <= width for left, _, size in boxes)
        if width < 600:
            assert len({top for _, top, _ in boxes}) == 3, "panels stand one above the other"
            drawn = browser.execute_script("return pingwright.pictures.map((p) => p.frame.width)")
            assert all(size > 0.6 * width for size in drawn)


def test_every_control_is_reached_by_keyboard_and_has_a_name(opened):
    from selenium.webdriver.common.keys import Keys

    wanted = set(
        opened.execute_script(
            "return [...document.querySelectorAll('input:not([type=radio]), button, .plot')]"
            ".map((e) => e.id || e.dataset.act)"
        )
    )
    names = opened.execute_script(
        "return [...document.querySelectorAll('input, button, .plot')].map((e) => (e.getAttribute('aria-label') ||"
        " (e.labels && e.labels[0] && e.labels[0].textContent) || e.textContent).trim())"
    )
    assert all(names)
    groups, seen, outlines = set(), set(), []
    body = opened.switch_to.active_element
    for _ in range(60):
        body.send_keys(Keys.TAB)
        body = opened.switch_to.active_element
        here = opened.execute_script(
            "const e = document.activeElement; return [e.id || e.dataset.act || '', e.name || '', e.tagName,"
            " e.shadowRoot === null && !e.className.includes('bk'), getComputedStyle(e).outlineWidth]"
        )
        if here[2] == "BODY":
            break
        assert here[3], "nothing unnamed inside a figure takes the focus"
        seen.add(here[0])
        groups.add(here[1])
        outlines.append(here[4])
    assert wanted <= seen
    assert {"unit", "drag"} <= groups
    assert all(float(width.rstrip("px")) >= 2 for width in outlines), "the focus is seen"


def test_keys_read_and_zoom(opened):
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    opened.execute_script("document.getElementById('picture-1').focus({preventScroll: true})")
    plot = opened.switch_to.active_element
    assert plot.get_attribute("id") == "picture-1"
    plot.send_keys(Keys.ARROW_DOWN)
    first = opened.execute_script("return pingwright.point")
    plot.send_keys(Keys.ARROW_DOWN, Keys.ARROW_RIGHT)
    second = opened.execute_script("return pingwright.point")
    assert second["y"] > first["y"]
    assert second["x"] > first["x"]
    assert "dB at" in opened.find_element(By.ID, "read-2").text
    assert opened.find_element(By.ID, "said").get_attribute("textContent").count("dB at") == 3
    before = views(opened)[0]
    plot.send_keys("+")
    settle(opened)
    after = views(opened)[0]
    assert after["y1"] - after["y0"] < before["y1"] - before["y0"]
    plot.send_keys("0")
    settle(opened)
    assert views(opened)[0] == before


def luminance(rgb):
    """Relative luminance of sRGB 0..255 (WCAG 2.1, definition)."""
    value = np.asarray(rgb, float) / 255
    linear = np.where(value <= 0.03928, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one, other):
    """Contrast ratio (WCAG 2.1, definition)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


COLOURS = """
const numbers = (c) => c.match(/[\\d.]+/g).map(Number);
const out = [];
for (const e of document.querySelectorAll('body *')) {
  const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  if (!own || e.closest('script, style, .unseen') || !e.checkVisibility()) continue;
  const style = getComputedStyle(e);
  let ground = [255, 255, 255, 0];
  for (let up = e; up && (ground[3] ?? 1) === 0; up = up.parentElement) {
    ground = numbers(getComputedStyle(up).backgroundColor);
  }
  const ink = e instanceof SVGElement ? style.fill : style.color;
  const name = e.tagName + '.' + (e.className.baseVal ?? e.className);
  out.push([name, numbers(ink).slice(0, 3), ground.slice(0, 3), parseFloat(style.fontSize), style.fontWeight]);
}
return out;
"""


@pytest.mark.parametrize(("dark", "media"), [(False, ""), (True, ""), (False, "print"), (True, "print")])
def test_text_is_readable(browser, page, dark, media):
    """WCAG 2.1, success criterion 1.4.3 (AA): 4.5 to 1; 3 to 1 for 24 px, or 18.66 px bold, and larger."""
    with fresh(browser, page, dark=dark, media=media):
        found = browser.execute_script(COLOURS)
        assert len(found) > 50
        for name, ink, ground, size, weight in found:
            large = size >= 24 or (size >= 18.66 and int(weight) >= 700)
            assert contrast(ink, ground) >= (3.0 if large else 4.5), (name, ink, ground)
        axis, paper = browser.execute_script(
            "const m = pingwright.pictures[0].model; return [m.left[0].major_label_text_color, m.border_fill_color]"
        )
        hexed = [[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in (axis, paper)]
        assert contrast(*hexed) >= 4.5
        assert (luminance(hexed[1]) < 0.2) == (dark and media != "print"), "sheets follow the system; print is light"


def test_controls_stand_out_from_the_sheet(browser, page):
    """WCAG 2.1, success criterion 1.4.11: 3 to 1 for the outlines of controls."""
    for dark in (False, True):
        with fresh(browser, page, dark=dark):
            line, ground = browser.execute_script(
                "return [getComputedStyle(document.querySelector('button')).borderColor,"
                " getComputedStyle(document.documentElement).backgroundColor]"
                ".map((c) => c.match(/[\\d.]+/g).map(Number))"
            )
            assert contrast(line[:3], ground[:3]) >= 3


def test_a_fixed_theme_wins_over_the_system(browser, folder, record):
    small = synthetic_record.record(pings=20, step=0.1)
    path = folder / "dark.html"
    path.write_text(build(small, synthetic_record.assessment(small), theme="dark"), encoding="utf-8")
    with fresh(browser, path, dark=False):
        ground = browser.execute_script("return getComputedStyle(document.documentElement).backgroundColor")
        assert luminance([float(v) for v in ground[4:-1].split(",")]) < 0.2


def test_hostile_texts_stay_texts(browser, folder):
    small = synthetic_record.record(pings=20, step=0.1)
    path = folder / "hostile.html"
    path.write_text(build(*spoiled(small, NASTY)), encoding="utf-8")
    visit(browser, path)
    assert complaints(browser) == []
    assert browser.execute_script("return window.pwned") is None
    assert browser.execute_script("return document.querySelector('h1').textContent") == NASTY
    assert browser.execute_script("return document.querySelector('pre').textContent") == NASTY
    assert browser.execute_script("return document.querySelectorAll('img, mjx-container, math').length") == 0
    browser.execute_script("document.getElementById('picture-0').focus()")
    browser.switch_to.active_element.send_keys("\ue015")
    said = browser.execute_script("return document.getElementById('said').textContent")
    assert NASTY in said


def test_an_anchored_boat_is_drawn_over_pings(browser, folder):
    small = synthetic_record.record(pings=20, step=0.1)
    still = replace(small, elements=tuple(replace(e, x=np.zeros(e.pings)) for e in small.elements))
    path = folder / "still.html"
    path.write_text(build(still, synthetic_record.assessment(small)), encoding="utf-8")
    visit(browser, path)
    assert complaints(browser) == []
    assert browser.execute_script("return pingwright.pictures[0].model.below[0].axis_label") == "Ping"
    assert views(browser)[0]["x1"] == 19.5
