"""The bench in a real browser: drag by mouse and keyboard, slide, swap, run passes, save; two tabs, a reload."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from test_bench import SMALL
from test_page_browser import browser  # noqa: F401
from test_page_browser import emulate as sized

THINGS = (
    SMALL
    + """
[[structure]]
name = "box"
shape = { kind = "box", length = "2 m", width = "2 m", height = "1 m" }
at = { x = "-1 m", y = "0 m" }
[[school]]
name = "bait"
swimbladder = "open"
length = "10 cm"
at = { x = "1 m", y = "0 m", depth = "6 m" }
size = { along = "2 m", across = "2 m", height = "1 m" }
density = "1 per m3"
[[school]]
name = "low school"
swimbladder = "open"
length = "10 cm"
at = { x = "0 m", y = "0 m", above_bottom = "4 m" }
size = { along = "2 m", across = "2 m", height = "1 m" }
density = "1 per m3"
[[scattering_layer]]
name = "krill"
kind = "fluid"
depth = ["3 m", "4 m"]
volume_strength = "-75 dB"
frequency = "100 kHz"
[[scattering_layer]]
name = "weed"
kind = "flat"
above_bottom = ["0 m", "1 m"]
volume_strength = "-60 dB"
frequency = "100 kHz"
[[target]]
name = "ball"
strength = "-40 dB"
at = { x = "0 m", y = "0 m", depth = "8 m" }
"""
)
ROOT = Path(__file__).resolve().parents[1]
#: seconds an answer may take on a busy machine before a test gives up; no speed is judged here
PATIENCE = 120


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    (folder / "small.toml").write_text(SMALL)
    program = [sys.executable, "-m", "pingwright", "bench", "small.toml", "--no-browser", "--quiet"]
    with subprocess.Popen(
        program, cwd=folder, stdout=subprocess.PIPE, text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "simulator")},
    ) as process:  # fmt: skip
        yield process.stdout.readline().strip()
        process.terminate()
        assert process.wait(30) == 0


def until(driver, script, *arguments):
    for _ in range(PATIENCE * 20):
        found = driver.execute_script(script, *arguments)
        if found:
            return found
        time.sleep(0.05)
    pytest.fail(f"never true: {script}")


@pytest.fixture
def bench(browser, address):  # noqa: F811
    sized(browser, width=1366, height=768)
    for kind in ("browser", "performance"):
        browser.get_log(kind)
    browser.get(address)
    until(browser, "return document.body.dataset.ready === 'yes'")
    yield browser
    assert [e for e in browser.get_log("browser") if e["level"] == "SEVERE"] == []


def serial(driver):
    return int(driver.execute_script("return document.body.dataset.serial"))


def answered(driver, act):
    """Act, and wait until the pictures of that change are there."""
    before = serial(driver)
    act()
    until(driver, f"return +document.body.dataset.serial > {before} && !document.querySelector('.column.stale')")


def knob(driver, key):
    return driver.execute_script(
        "return [...document.querySelectorAll('.knob')].find((k) => k.dataset.key === arguments[0])"
        ".querySelector('input[type=number], select').value",
        key,
    )


def marks_of(driver):
    return [h.text for h in driver.find_elements("css selector", ".column .verdict")]


def test_it_shows_the_answer_pictures_and_knobs_without_an_error_or_a_request_elsewhere(bench, address):
    assert bench.find_element("id", "answer").text
    assert len(bench.find_elements("css selector", ".column canvas")) == 2
    painted = bench.execute_script(
        "const c = document.querySelector('.column canvas'), seen = new Set();"
        "const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        "for (let i = 0; i < d.length; i += 4) seen.add(d[i] * 65536 + d[i + 1] * 256 + d[i + 2]);"
        "return seen.size"
    )
    assert painted > 30
    assert [e for e in bench.get_log("browser") if e["level"] == "SEVERE"] == []
    sent = [json.loads(e["message"])["message"] for e in bench.get_log("performance")]
    asked = [m["params"]["request"]["url"] for m in sent if m["method"] == "Network.requestWillBeSent"]
    assert [url for url in asked if not url.startswith((address, "data:", "blob:"))] == []
    assert bench.execute_script("return document.documentElement.scrollWidth <= innerWidth")


def test_fish_are_dragged_by_mouse_and_by_keyboard(bench):
    from selenium.webdriver import ActionChains, Keys

    key = "fish.1.where.above_bottom"
    first = float(knob(bench, key))
    handle = bench.find_element("css selector", "#side .handle")
    answered(bench, lambda: ActionChains(bench).drag_and_drop_by_offset(handle, 0, -30).perform())
    dragged = float(knob(bench, key))
    assert dragged > first + 1.0, "30 px of a picture of 12 m are metres"
    handle = bench.find_element("css selector", "#side .handle")
    handle.send_keys(Keys.NULL)
    answered(bench, lambda: handle.send_keys(Keys.ARROW_UP))
    assert float(knob(bench, key)) == pytest.approx(dragged + 0.1, abs=0.02)  # a tenth of a foot, shown in feet


def test_fish_are_lifted_in_the_lens_and_moved_from_astern(bench):
    from selenium.webdriver import ActionChains

    key = "fish.1.where.above_bottom"
    before = float(knob(bench, key))
    lens = bench.find_element("css selector", "[data-handle=lens]")
    answered(bench, lambda: ActionChains(bench).drag_and_drop_by_offset(lens, 40, -10).perform())
    lifted = float(knob(bench, key)) - before
    assert 0.2 < lifted < 3.0, "10 px of the lens are about a foot, in the section metres"
    astern = bench.find_element("css selector", "#ahead .handle")
    place = astern.rect["x"]
    answered(bench, lambda: ActionChains(bench).drag_and_drop_by_offset(astern, 12, 0).perform())
    assert bench.find_element("css selector", "#ahead .handle").rect["x"] > place + 6


def test_a_fish_moves_with_the_pointer_before_any_answer(bench):
    from selenium.webdriver import ActionChains

    place = "return document.querySelector('#side .fish[data-thing]').getBoundingClientRect().y"
    height, first, before = float(knob(bench, "fish.1.where.above_bottom")), bench.execute_script(place), serial(bench)
    handle = bench.find_element("css selector", "#side .handle")
    bench.execute_script("WebSocket.prototype.send = function () {}")
    ActionChains(bench).click_and_hold(handle).move_by_offset(0, -20).perform()
    assert bench.execute_script(place) == pytest.approx(first - 20, abs=1.5)
    assert float(knob(bench, "fish.1.where.above_bottom")) > height + 1.0
    assert serial(bench) == before
    ActionChains(bench).release().perform()


def test_fish_are_lifted_by_touch_and_the_page_stays(bench):
    sized(bench, width=390, height=844)
    bench.execute_script("document.querySelector('[data-handle=lens]').scrollIntoView({block: 'center'})")
    before, page = float(knob(bench, "fish.1.where.above_bottom")), bench.execute_script("return scrollY")
    x, y = bench.execute_script(
        "const r = document.querySelector('[data-handle=lens]').getBoundingClientRect();"
        "return [r.x + r.width / 2, r.y + r.height / 2]"
    )

    def touch(kind, *points):
        bench.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    def drag():
        touch("touchStart", {"x": x, "y": y})
        for step in range(1, 5):
            touch("touchMove", {"x": x, "y": y - 3 * step})
        touch("touchEnd")

    answered(bench, drag)
    assert float(knob(bench, "fish.1.where.above_bottom")) > before + 0.2
    assert bench.execute_script("return scrollY") == page


def test_an_element_of_ones_own_and_a_reload_that_keeps_it(bench):
    from selenium.webdriver import Keys

    bench.find_element("css selector", ".column .edit").send_keys(Keys.ENTER)
    assert bench.find_element("id", "element").is_displayed()

    def set_(name, value):
        bench.execute_script(
            "const f = [...document.querySelectorAll('#own .knob')].find((k) => k.dataset.name === arguments[0])"
            ".querySelector('input, select'); f.value = arguments[1]; f.dispatchEvent(new Event('change'))",
            name, value,
        )  # fmt: skip

    answered(bench, lambda: set_("Beam across", 30))
    answered(bench, lambda: set_("Name", "mine"))
    assert bench.find_element("css selector", ".column h2").text == "mine"
    assert bench.find_element("css selector", ".column .band").text.endswith("30\u00b0")
    bench.refresh()
    until(bench, "return document.body.dataset.ready === 'yes'")
    assert bench.find_element("css selector", ".column h2").text == "mine"


def test_the_space_bar_presses_the_button_that_has_the_focus(bench):
    from selenium.webdriver import Keys

    before = bench.find_element("id", "dark").get_attribute("aria-pressed")
    for pressed in ("true", "false") if before == "false" else ("false", "true"):
        bench.find_element("id", "dark").send_keys(Keys.SPACE)
        assert bench.find_element("id", "dark").get_attribute("aria-pressed") == pressed
    assert bench.find_element("id", "play").get_attribute("aria-pressed") == "false"


def test_the_boat_is_one_place_in_drawing_and_pictures(bench):
    bench.execute_script(
        "const b = document.getElementById('boat'); b.value = +b.min + 0.75 * (b.max - b.min);"
        "b.dispatchEvent(new Event('input'))"
    )
    place = bench.execute_script(
        "return [...document.querySelectorAll('.column .whole')].map((f) => {"
        "const c = f.querySelector('canvas'), h = f.querySelector('.hair');"
        "return (parseFloat(h.style.left) - c.frame.x) / c.frame.w})"
    )
    assert place == pytest.approx([0.75] * len(place), abs=0.03)  # pictures end half a ping beyond the track
    assert bench.find_element("id", "boat-at").text


def test_depth_element_and_passes(bench):
    def deeper():
        field = bench.find_element("css selector", "[data-key='seabed.depth'] input[type=number]")
        bench.execute_script("arguments[0].value = 60; arguments[0].dispatchEvent(new Event('change'))", field)

    answered(bench, deeper)
    assert float(knob(bench, "seabed.depth")) == 60

    def swap():
        bench.execute_script(
            "document.querySelector('.column .edit').click();"
            "const s = document.querySelector('#own select'); s.value = 'low-pencil';"
            "s.dispatchEvent(new Event('change'))"
        )

    answered(bench, swap)
    assert "42" in bench.find_element("css selector", ".column .band").text
    bench.find_element("id", "run").click()
    until(bench, "return +document.body.dataset.passes >= 4")
    assert "%" in bench.find_element("id", "shares").text
    bench.find_element("id", "run").click()


def test_every_number_says_what_it_is_by_mouse_and_by_key(bench):
    from selenium.webdriver import Keys

    why = bench.find_element("id", "why")
    for place in (".column .verdict small", ".column .hides", ".column .band", "#sure", ".knob .name"):
        bench.execute_script("document.getElementById('why').hidden = true")
        bench.find_element("css selector", place).send_keys(Keys.ENTER)
        assert len(why.text) > 60, place
    bench.find_element("css selector", ".column .verdict small").click()
    assert "at least 3 pings" in why.text
    for mark in ("separated", "merged", "not-shown", "hidden", "echo"):
        bench.find_element("id", f"key-{mark}").send_keys(Keys.ENTER)
        assert len(why.text) > 60, mark
        box = bench.execute_script(
            "const r = arguments[0].getBoundingClientRect(); return [r.x, r.y, r.right, r.bottom]", why
        )
        assert min(box) >= 0
        assert box[2] <= 1366
        assert box[3] <= 768
    bench.find_element("id", "key-echo").send_keys(Keys.ESCAPE)
    assert not why.is_displayed()


def test_what_is_saved_runs_to_the_same_counts(bench, tmp_path):
    from pingwright.run import pipeline

    bench.execute_cdp_cmd(
        "Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(tmp_path), "eventsEnabled": False}
    )
    bench.execute_script(
        "const s = document.getElementById('save'); s.value = 'scenario'; s.dispatchEvent(new Event('change'))"
    )
    path = tmp_path / "scene.toml"
    for _ in range(PATIENCE * 20):
        if path.exists() and path.stat().st_size:
            break
        time.sleep(0.05)
    results = pipeline.run(path, tmp_path / "out", threads=1, no_pictures=True)
    numbers = json.loads((results.folder / "summary.json").read_text())["elements"][0]["numbers"]
    separated, fish = (int(numbers[name]["value"]) for name in ("fish_separated", "fish"))
    words = {0: "none"}.get(separated, str(separated))
    assert marks_of(bench)[0].startswith(f"{words} of {fish}")


def test_what_is_odd_in_a_scene_is_told(bench):
    notes = bench.find_element("id", "notes")
    assert not notes.is_displayed()

    def aside():
        bench.execute_script(
            "document.querySelector('#ahead .handle')"
            ".dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', shiftKey: true}))"
        )

    answered(bench, aside)
    until(bench, "return !document.getElementById('notes').hidden")
    notes.click()
    assert "main lobe" in bench.find_element("id", "why").text
    assert not notes.text.startswith("0")


def test_refused_it_says_why_and_goes_on(bench):
    before = marks_of(bench)
    bench.execute_script(
        "const f = document.querySelector(\"[data-key='fish.1.length'] input[type=number]\"); f.value = 9999;"
        "f.dispatchEvent(new Event('change'))"
    )
    until(bench, "return !document.getElementById('refused').hidden")
    assert "fish" in bench.find_element("id", "refused").text
    assert marks_of(bench) == before


def test_two_tabs_a_killed_one_and_a_reload_do_not_mix(bench, address):
    from selenium.webdriver import Keys

    first = bench.current_window_handle
    bench.switch_to.new_window("tab")
    bench.get(address)
    until(bench, "return document.body.dataset.ready === 'yes'")

    def metres():
        bench.find_element("id", "units").click()

    answered(bench, metres)
    assert "m" in bench.find_element("css selector", "[data-key='seabed.depth'] label").text
    metres()
    bench.close()  # while its change is computed
    bench.switch_to.window(first)
    assert "ft" in bench.find_element("css selector", "[data-key='seabed.depth'] label").text
    answered(bench, lambda: bench.find_element("css selector", "#side .handle").send_keys(Keys.ARROW_UP))
    bench.refresh()
    until(bench, "return document.body.dataset.ready === 'yes'")
    assert bench.find_element("id", "answer").text


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080), (390, 844)])
def test_it_fits_the_screen(bench, width, height):
    sized(bench, width=width, height=height)
    time.sleep(0.5)
    assert bench.execute_script("return document.documentElement.scrollWidth") <= width
    if width > 800:
        assert bench.execute_script("return document.documentElement.scrollHeight") <= height


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080)])
def test_four_elements_in_large_type_fit_a_laptop_and_a_stage(bench, width, height):
    sized(bench, width=width, height=height)
    while len(bench.find_elements("css selector", ".column")) < 4:
        answered(bench, lambda: bench.find_element("id", "add").click())
    bench.find_element("id", "large").click()
    try:
        until(bench, "return document.documentElement.scrollHeight <= arguments[0]", height)
        assert bench.execute_script("return document.documentElement.scrollWidth") <= width
        heights = {e.size["height"] for e in bench.find_elements("css selector", ".column .verdict")}
        assert len(heights) == 1, "verdicts of all elements stand in one row"
    finally:
        bench.find_element("id", "large").click()


def chosen(driver, key, value):
    driver.execute_script(
        "const s = [...document.querySelectorAll('.knob')].find((k) => k.dataset.key === arguments[0])"
        ".querySelector('select'); s.value = arguments[1]; s.dispatchEvent(new Event('change'))",
        key, value,
    )  # fmt: skip


def handle_of(driver, name, view="side"):
    return driver.find_element("css selector", f"#{view} [aria-label='{name}']")


def test_a_ledge_is_made_and_dragged_by_mouse_and_by_key(bench):
    from selenium.webdriver import ActionChains, Keys

    def said():
        return [
            handle_of(bench, f"Ledge, {which} edge").get_attribute("aria-valuetext") for which in ("first", "second")
        ]

    answered(bench, lambda: chosen(bench, "seabed.shape", "ledge"))
    before = said()
    dot = bench.find_elements("css selector", "#side .dot")[0]
    ground = "return document.querySelector('#side .ground').getAttribute('points')"
    still = bench.execute_script(ground)

    def drag():
        ActionChains(bench).move_to_element(dot).click_and_hold().move_by_offset(-8, -20).perform()
        assert bench.execute_script(ground) != still, "the drawing follows the pointer"
        ActionChains(bench).release().perform()

    answered(bench, drag)
    first, second = said()
    assert first != before[0]
    assert second == before[1]
    assert float(knob(bench, "seabed.ledge.height")) > 10.0  # 20 px of a picture of 40 ft are many feet
    place = float(knob(bench, "seabed.ledge.place"))
    answered(bench, lambda: handle_of(bench, "Ledge").send_keys(Keys.ARROW_RIGHT))
    assert float(knob(bench, "seabed.ledge.place")) == pytest.approx(place + 1.0, abs=0.02)
    answered(bench, lambda: chosen(bench, "seabed.shape", "flat"))
    assert not bench.find_elements("css selector", "#side .dot")


def test_one_fish_is_moved_alone_by_alt_by_the_button_and_by_a_long_touch(bench):
    from selenium.webdriver import ActionChains, Keys

    def fish():
        return bench.find_elements("css selector", "#side .fish[data-thing]")

    def heights():
        return sorted(
            float(h.get_attribute("aria-valuetext").split()[0])
            for h in bench.find_elements("css selector", "#side [aria-label^='Fish: ']")
        )

    def alt():
        act = ActionChains(bench).key_down(Keys.ALT).move_to_element(fish()[0]).click_and_hold()
        act.move_by_offset(0, -10).move_by_offset(0, -10).release().key_up(Keys.ALT).perform()

    answered(bench, lambda: bench.find_element("tag name", "body").send_keys("b"))
    before = heights()
    answered(bench, alt)
    assert len(heights()) == 2
    assert heights()[0] == before[0]
    assert heights()[1] > before[0] + 3.0
    answered(bench, lambda: bench.find_element("tag name", "body").send_keys(Keys.CONTROL, "z"))
    assert heights() == before, "one drag is one step back"

    bench.find_element("id", "single").click()
    one = handle_of(bench, "Fish 2 of fish, by itself")
    answered(bench, lambda: one.send_keys(Keys.ARROW_UP))
    assert len(heights()) == 2
    assert not bench.find_element("id", "single").is_displayed(), "no group is left"
    answered(bench, lambda: bench.find_element("tag name", "body").send_keys("b"))
    bench.find_element("id", "single").click()

    sized(bench, width=390, height=844)
    time.sleep(0.5)  # until the page is laid out anew
    bench.execute_script("document.getElementById('side').scrollIntoView({block: 'center'})")
    x, y = bench.execute_script(
        "const r = document.querySelector('#side .fish[data-thing]').getBoundingClientRect();"
        "return [r.x + r.width / 2, r.y + r.height / 2]"
    )

    def touch(kind, *points):
        bench.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    def hold():
        touch("touchStart", {"x": x, "y": y})
        time.sleep(0.8)
        for step in range(1, 5):
            touch("touchMove", {"x": x, "y": y - 4 * step})
        touch("touchEnd")

    answered(bench, hold)
    assert len(heights()) == 2
    answered(bench, lambda: bench.find_element("tag name", "body").send_keys("b"))


def test_everything_in_the_water_is_moved_and_says_where_it_is(bench, tmp_path):
    from selenium.webdriver import Keys

    (tmp_path / "things.toml").write_text(THINGS)
    answered(bench, lambda: bench.find_element("id", "open").send_keys(str(tmp_path / "things.toml")))

    def state(name):
        handle = handle_of(bench, name)
        return handle.get_attribute("aria-valuetext"), float(handle.get_attribute("x"))

    for name, key in (
        ("Layer: krill", Keys.ARROW_UP), ("Layer: weed", Keys.ARROW_UP), ("structure: box", Keys.ARROW_RIGHT),
        ("school: bait", Keys.ARROW_UP), ("school: low school", Keys.ARROW_UP), ("target: ball", Keys.ARROW_RIGHT),
        ("Fish: fish", Keys.ARROW_UP),
    ):  # fmt: skip
        before = state(name)
        answered(bench, lambda name=name, key=key: handle_of(bench, name).send_keys(Keys.SHIFT, key))
        after = state(name)
        assert (after[0] != before[0]) if key == Keys.ARROW_UP else (after[1] > before[1]), name
        assert bench.find_element("id", "refused").text == ""


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (1920, 1080)])
def test_what_opens_in_large_type_fits_and_no_label_lies_over_another(bench, width, height):
    sized(bench, width=width, height=height)
    bench.find_element("id", "large").click()
    try:
        bench.find_element("css selector", ".column .edit").click()
        time.sleep(0.5)
        wide = "return [...document.querySelectorAll(arguments[0])].filter((l) => l.scrollWidth > l.clientWidth + 1)"
        assert bench.execute_script(wide, "#own label") == []
        bench.find_element("id", "done").click()
        bench.find_element("css selector", "#more summary").click()
        time.sleep(0.5)
        assert bench.find_element("css selector", "[data-key='seabed.shape'] select").is_displayed()
        assert bench.execute_script(wide, "#others label") == []
        assert bench.execute_script("return document.documentElement.scrollHeight") <= height
    finally:
        bench.find_element("id", "large").click()
