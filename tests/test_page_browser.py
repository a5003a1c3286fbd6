"""The page in a real browser: what a reader sees, points at, presses; and that it never asks for anything."""

import json
import shutil
import time
from contextlib import contextmanager
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import synthetic_record
from pingwright import palette
from pingwright.page import cells
from pingwright.page.build import build
from test_page_build import NASTY, spoiled

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")

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


def view_of(browser, row=""):
    return browser.execute_script("return pingwright.views.find((v) => v.row === arguments[0]).range", row)


def test_the_read_out_equals_the_file(opened, record):
    random = np.random.default_rng(8)
    asked = [[i, float(random.uniform(-29, 29)), float(random.uniform(2, 69))] for i in range(3) for _ in range(50)]
    found = opened.execute_script("return arguments[0].map(([i, x, z]) => pingwright.readout(i, x, z))", asked)
    for (index, x, depth), read in zip(asked, found, strict=True):
        element = record.elements[index]
        pings = slice(read["firstPing"], read["firstPing"] + read["pings"])
        samples = slice(read["firstSample"], read["firstSample"] + read["samples"])
        assert abs(read["level"] - float(element.echo_strength(pings, samples).max())) <= cells.STEP / 2 + 1e-3
        drawn = element.range[samples] + element.info.transducer_depth
        assert drawn[0] - 0.006 <= depth <= drawn[-1] + 0.006
        half = (element.x[1] - element.x[0]) / 2
        assert element.x[pings][0] - half <= x <= element.x[pings][-1] + half


def test_what_is_painted_is_the_level_through_the_palette(opened):
    """Pixels in the middle of drawn cells of the whole water, without marks, against the read-out there."""
    opened.execute_script("if (pingwright.marked) document.getElementById('marks').click()")
    settle(opened)
    asked = [[float(x), float(z)] for x in np.linspace(-25, 25, 12) for z in (12.3, 40.1, 54.4, 58.6, 61.0)]
    found = opened.execute_script(
        """const view = pingwright.views.find((v) => v.row === "" && v.element === 1);
        const ctx = view.canvas.getContext("2d");
        return arguments[0].map(([x, z]) => {
          const under = view.cells.under(x, z, view.by);
          const [px, py] = [view.toX(under.x), view.toY(under.depth)];
          return [under.level, ...ctx.getImageData(Math.round(px), Math.round(py), 1, 1).data];
        });""",
        asked,
    )
    table = np.rint(palette.level_table("light") * 255)
    good = 0
    for level, *colour in found:
        low, high = palette.LEVEL_LIMITS
        first, last = (int(np.clip((level + by - low) / (high - low), 0, 1) * 255.999) for by in (-0.6, 0.6))
        good += any(np.abs(table[k] - colour[:3]).max() <= 2 for k in range(first, last + 1))
    # a pixel may belong to the drawn cell beside: cells are about as high as pixels here
    assert good > 0.6 * len(found)
    opened.execute_script("document.getElementById('marks').click()")


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (390, 844)])
def test_the_first_screen_is_the_answer_and_row_a_of_every_element(browser, page, width, height):
    with fresh(browser, page, width=width, height=height) as it:
        foot = it.execute_script(
            "return [...document.querySelectorAll('canvas.row-a')].map((c) => c.getBoundingClientRect().bottom)"
        )
        assert len(foot) == 3
        assert max(foot) <= height
        assert it.execute_script("return document.querySelector('h1').getBoundingClientRect().top") < 40
        assert it.execute_script("return document.documentElement.scrollWidth") <= width
        assert not it.execute_script("return document.querySelector('details.controls').open")
        rows = it.execute_script(
            "return [...document.querySelectorAll('canvas.row-a')].map((c) => c.getBoundingClientRect().top)"
        )
        assert max(rows) - min(rows) < 1.5  # the same height for all


#: Notes every text of a canvas: its ends across and its line [px], before the page draws itself anew.
NOTED = """
window.noted = [];
const draw = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
  const wide = this.measureText(text).width, part = { left: 0, right: 1, center: 0.5 }[this.textAlign] ?? 0;
  window.noted.push([this.canvas.id, text, x - part * wide, x + (1 - part) * wide, y, this.canvas.clientWidth]);
  draw.apply(this, arguments);
};
document.getElementById("unit").click();
"""


def test_numbers_and_words_in_pictures_are_whole_and_apart_on_a_phone(browser, page):
    with fresh(browser, page, width=390, height=844) as it:
        it.execute_script(NOTED)
        settle(it)
        told = it.execute_script("return window.noted")
        cut = [text for _, text, left, right, _, width in told if left < -1 or right > width + 1]
        assert not cut
        under = [text for canvas, text, *_ in told if canvas == "curves"]
        assert any("dotted" in text for text in under)
        for canvas in {each[0] for each in told}:
            lines = {}
            for _, _, left, right, y, _ in (each for each in told if each[0] == canvas):
                lines.setdefault(round(y), []).append((left, right))
            if canvas == "curves":
                assert all(a[1] < b[0] for line in lines.values() for a, b in pairwise(sorted(set(line))))


def test_the_wheel_scrolls_the_page_until_a_picture_is_clicked(opened):
    wheel = """const c = document.querySelector("canvas.whole"); const box = c.getBoundingClientRect();
      const at = { clientX: box.left + 120, clientY: box.top + 40 };
      const e = new WheelEvent("wheel", { deltaY: -100, bubbles: true, cancelable: true, ...at });
      c.dispatchEvent(e); return e.defaultPrevented"""
    before = view_of(opened)
    assert not opened.execute_script(wheel)
    settle(opened)
    assert view_of(opened) == before
    opened.execute_script("document.querySelector('canvas.whole').click()")
    assert opened.execute_script(wheel)
    settle(opened)
    after = view_of(opened)
    assert after["x1"] - after["x0"] < before["x1"] - before["x0"]
    assert after["y0"] <= 58.0 <= after["y1"], "zooming keeps the bottom in sight"
    every = opened.execute_script(
        "return pingwright.views.filter((v) => v.row === '').map((v) => JSON.stringify(v.range))"
    )
    assert len(set(every)) == 1


def test_keys_zoom_move_and_let_go(opened):
    from selenium.webdriver.common.keys import Keys

    canvas = opened.find_element("css selector", "canvas.whole")
    opened.execute_script("arguments[0].focus()", canvas)
    whole = view_of(opened)
    for key in ("+", "+", Keys.ARROW_RIGHT):
        canvas.send_keys(key)
    settle(opened)
    moved = view_of(opened)
    assert moved["x1"] - moved["x0"] < 0.6 * (whole["x1"] - whole["x0"])
    canvas.send_keys("0")
    settle(opened)
    assert view_of(opened) == whole
    canvas.send_keys(Keys.ESCAPE)
    assert opened.execute_script("return pingwright.active") is None


def test_stepping_from_fish_to_fish_moves_curves_beams_and_words(opened, record):
    beams = "return document.querySelector('g.beams[data-scale]').getAttribute('transform')"
    first = opened.execute_script(beams), opened.find_element("id", "fish-text").text
    opened.execute_script("document.getElementById('forward').click()")
    settle(opened)
    assert opened.find_element("id", "fish-name").text == "Fish 2 of 10"
    second = opened.execute_script(beams), opened.find_element("id", "fish-text").text
    assert first[0] != second[0]
    assert first[1] != second[1]
    for element in record.elements:
        assert element.info.name in second[1]
    inked = """const c = document.getElementById("curves");
      return c.getContext("2d").getImageData(0, 0, c.width, c.height).data.some((v) => v > 0)"""
    assert opened.execute_script(inked)


def test_feet_change_every_length_and_the_answer(opened):
    shown = """return [...document.querySelectorAll("h1 .m, h1 .ft")].filter((s) => s.offsetWidth)[0].textContent"""
    assert "cm" in opened.execute_script(shown)
    opened.execute_script("document.getElementById('unit').click()")
    settle(opened)
    assert "ft off the bottom" in opened.execute_script(shown)
    lengths = opened.execute_script("return [...document.querySelectorAll('table .length')].map((e) => e.textContent)")
    assert lengths
    assert all(text.endswith(("ft", "in")) for text in lengths)
    opened.execute_script("document.getElementById('unit').click()")


def test_the_address_holds_the_state(browser, page, opened):
    opened.execute_script("document.getElementById('unit').click(); document.getElementById('forward').click()")
    opened.execute_script("pingwright.zoom(pingwright.views.find((v) => v.row === ''), 0.5)")
    settle(opened)
    address, seen = opened.current_url, view_of(opened)
    opened.get("about:blank")
    opened.get(address)
    wait(opened, "return document.body.dataset.state !== 'opening'")
    settle(opened)
    assert opened.execute_script("return [pingwright.unit, pingwright.fish]") == ["ft", 1]
    again = view_of(opened)
    assert all(abs(again[k] - seen[k]) < 0.02 for k in seen)


@pytest.mark.parametrize("hash_", ["#w=a_b", "#f=999&l=5_1&u=yards", "#w=9_1_2_3&t=<script>", "#%00"])
def test_a_strange_address_is_borne(browser, page, hash_):
    browser.get("about:blank")
    browser.get(page.as_uri() + hash_)
    wait(browser, "return document.body.dataset.state !== 'opening'")
    assert browser.execute_script("return document.body.dataset.state") == "ready"
    assert complaints(browser) == []


def test_the_view_is_saved_as_a_picture(opened):
    opened.execute_script("pingwright.save()")
    size = opened.execute_script("return [pingwright.saved.width, pingwright.saved.height]")
    assert size[0] > 800
    assert size[1] > 400
    colours = opened.execute_script(
        """const { width, height } = pingwright.saved, s = new Set();
        const d = pingwright.saved.getContext("2d").getImageData(0, 0, width, height).data;
        for (let i = 0; i < d.length; i += 400) s.add((d[i] << 16) | (d[i + 1] << 8) | d[i + 2]);
        return s.size"""
    )
    assert colours > 40


@pytest.mark.parametrize("dark", [False, True])
def test_it_follows_the_readers_theme_and_prints_light(browser, page, dark):
    with fresh(browser, page, dark=dark) as it:
        assert it.execute_script("return pingwright.used") == ("dark" if dark else "light")
        it.execute_script("window.dispatchEvent(new Event('beforeprint'))")
        assert it.execute_script("return pingwright.used") == "light"
        it.execute_script("window.dispatchEvent(new Event('afterprint'))")
        assert it.execute_script("return pingwright.used") == ("dark" if dark else "light")


@pytest.mark.parametrize("paper", [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_it_prints_whole(browser, page, paper, tmp_path):
    import base64
    import io

    import pypdf

    with fresh(browser, page) as it:
        made = it.execute_cdp_cmd("Page.printToPDF", {"paperWidth": paper[0], "paperHeight": paper[1]})
        pages = pypdf.PdfReader(io.BytesIO(base64.b64decode(made["data"]))).pages
        first = " ".join(pages[0].extract_text().split())
        for word in ("38 cm (1.2 ft)", "SIMULATED", "Whole water", "narrow high", "low"):
            assert word in first
        assert len(pages) <= 6
        assert len(pages[-1].extract_text().splitlines()) >= 8  # no page for the last lines alone


def test_hostile_text_is_text(browser, folder, record):
    path = folder / "nasty.html"
    path.write_text(build(*spoiled(record, NASTY)), encoding="utf-8")
    with fresh(browser, path) as it:
        assert it.execute_script("return window.pwned") is None
        assert it.execute_script("return document.querySelectorAll('main img').length") == 0
        assert complaints(it) == []


def test_an_anchored_boat_and_water_without_fish_open(browser, folder, record):
    still = tuple(replace(e, x=np.zeros(e.pings)) for e in record.elements)
    path = folder / "still.html"
    path.write_text(build(replace(record, elements=still), synthetic_record.assessment(record)), encoding="utf-8")
    with fresh(browser, path) as it:
        assert complaints(it) == []
