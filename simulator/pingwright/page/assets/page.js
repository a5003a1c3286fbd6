"use strict";
// The page: unpacks, embeds the figures, and ties controls, pointer and keys to all panels at once.

const read = (id) => JSON.parse(document.getElementById(id).textContent);
const byId = (id) => document.getElementById(id);

async function open() {
  const data = read("pingwright-data");
  const plots = read("pingwright-plots");
  const roots = {};
  plots.pictures.forEach((id, i) => (roots[id] = `picture-${i}`));
  plots.strips.forEach((id, i) => (roots[id] = `strip-${i}`));
  const [views, cells] = await Promise.all([
    Bokeh.embed.embed_items({ page: plots.json }, [{ docid: "page", roots, root_ids: Object.keys(roots) }]),
    Promise.all(data.panels.flatMap((p) => [p.picture, p.strip]).map(async (packed) => new Cells(packed, await unpack(packed.data), data.base, data.step))),
  ]);
  const find = (id) => views[0].get_by_id(id);
  const pictures = plots.pictures.map((id, i) => new Picture(byId(`picture-${i}`), find(id).model, find(id), cells[2 * i], false));
  const strips = plots.strips.map((id, i) => new Picture(byId(`strip-${i}`), find(id).model, find(id), cells[2 * i + 1], true));
  return new Page(data, pictures, strips);
}

class Page {
  constructor(data, pictures, strips) {
    Object.assign(this, { data, pictures, strips, unit: "m", point: null, asked: false });
    this.all = [...pictures, ...strips];
    this.home = pictures[0].range;
    this.dark = window.matchMedia("(prefers-color-scheme: dark)");
    this.print = window.matchMedia("print");
    for (const query of [this.dark, this.print]) query.addEventListener("change", () => this.colours());
    window.addEventListener("beforeprint", () => this.colours("light"));
    window.addEventListener("afterprint", () => this.colours());
    const { x_range: x, y_range: y } = pictures[0].model;
    for (const end of [x.properties.start, x.properties.end, y.properties.start, y.properties.end]) {
      pictures[0].model.x_range.on_change(end, () => this.ask());
    }
    window.addEventListener("resize", () => this.ask());
    for (const picture of this.all) new ResizeObserver(() => this.ask()).observe(picture.holder);
    this.controls();
    this.pointers();
    this.colours();
    this.marks();
    this.lengths();
    this.draw();
  }

  // One redraw a frame however many changes ask for it.
  ask() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.draw();
    });
  }

  draw() {
    for (const picture of this.all) {
      if (picture.holder.offsetParent === null) continue;
      picture.draw();
      picture.ticks(this.unit, this.data.metresAlong);
    }
    this.show();
  }

  colours(forced) {
    const wanted = document.documentElement.dataset.theme;
    const dark = forced !== "light" && !this.print.matches && (wanted === "dark" || (wanted !== "light" && this.dark.matches));
    document.documentElement.dataset.paint = dark ? "dark" : "light";
    const css = getComputedStyle(document.documentElement);
    const style = Object.fromEntries(["paper", "panel", "ink", "line", "mark", "halo"].map((n) => [n, css.getPropertyValue(`--${n}`).trim()]));
    style.font = css.getPropertyValue("--font").trim();
    const low = Number(byId("low").value), high = Number(byId("high").value);
    const table = this.data.tables[dark ? "dark" : "light"];
    for (const picture of this.all) picture.paint(style, table, low, high);
    byId("scale").style.background = `linear-gradient(to right, ${table.filter((_, i) => i % 15 === 0).join(", ")})`;
  }

  marks() {
    const on = byId("truth").checked;
    this.pictures.forEach((picture, i) => picture.mark(this.data.panels[i].marks, on));
    this.strips.forEach((strip, i) => strip.mark(this.data.panels[i].marks.filter((m) => m.off !== null), on));
    document.body.classList.toggle("no-truth", !on);
  }

  lengths() {
    const feet = this.unit === "ft";
    for (const el of document.querySelectorAll("[data-m]")) {
      const metres = Number(el.dataset.m), digits = Number(el.dataset.digits);
      if (el.dataset.bare) el.textContent = this.length(metres, digits);
      else if (metres !== 0 && Math.abs(metres) < (feet ? 1 / FEET : 1)) el.textContent = this.small(metres);
      else el.textContent = `${this.length(metres, digits)}\u00a0${this.unit}`;
    }
  }

  // Below a metre centimetres, below a foot inches, with two figures.
  small(metres) {
    const feet = this.unit === "ft";
    const value = feet ? metres * FEET * 12 : metres * 100;
    const digits = Math.abs(value) < 0.005 ? 0 : Math.min(2, Math.max(0, 1 - Math.floor(Math.log10(Math.abs(value)))));
    return `${value.toFixed(digits).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "\u2212")}\u00a0${feet ? "in" : "cm"}`;
  }

  length(metres, digits) {
    const value = this.unit === "ft" ? metres * FEET : metres;
    return value.toFixed(this.unit === "ft" && digits > 0 && Math.abs(value) >= 1 ? Math.max(1, digits - 1) : digits).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "\u2212");
  }

  along(x) {
    return this.data.metresAlong ? `${this.length(x, 1)}\u00a0${this.unit}` : `ping ${Math.round(x)}`;
  }

  // What every panel shows under one point (x along the track, depth); the tests ask this too.
  readout(index, x, depth, strip = false) {
    const picture = (strip ? this.strips : this.pictures)[index];
    return picture.cells.under(x, depth, picture.by);
  }

  show() {
    const { point } = this;
    byId("where").textContent = point === null ? "Point at a picture, or step into one with Tab and use the arrow keys." : this.where(point);
    this.pictures.forEach((picture, i) => {
      const here = point === null || point.strip ? null : { x: point.x, y: point.y };
      picture.hair(here ?? (point && { x: point.x, y: null }));
      this.strips[i].hair(point && { x: point.x, y: point.strip ? point.y : null });
      byId(`read-${i}`).textContent = point === null ? "\u00a0" : this.sentence(i, point);
    });
  }

  where(point) {
    const height = point.strip ? `${this.length(-point.y, 2)}\u00a0${this.unit} above the picked bottom` : `${this.length(point.y, 2)}\u00a0${this.unit} deep`;
    return `Pointer: ${this.along(point.x)}, ${height}`;
  }

  sentence(i, point) {
    const found = this.readout(i, point.x, point.y, point.strip);
    if (found === null || Number.isNaN(found.level)) return "nothing recorded here";
    const level = found.level.toFixed(1).replace("-", "\u2212");
    const depth = point.strip ? `${this.length(-found.depth, 2)}\u00a0${this.unit} above bottom` : `${this.length(found.depth, 2)}\u00a0${this.unit}`;
    const joined = found.pings * found.samples > 1 ? ` (maximum of ${found.pings}\u00a0\u00d7\u00a0${found.samples} samples)` : " (one sample)";
    const blind = !point.strip && found.depth < this.data.panels[i].blind ? "; blind range" : "";
    return `${level}\u00a0dB at ${depth}${joined}${blind}`;
  }

  controls() {
    const low = byId("low"), high = byId("high");
    const level = (moved) => {
      if (Number(high.value) - Number(low.value) < 5) {
        if (moved === low) low.value = Number(high.value) - 5;
        else high.value = Number(low.value) + 5;
      }
      for (const el of [low, high]) {
        byId(`${el.id}-value`).textContent = `${el.value.replace("-", "\u2212")}\u00a0dB`;
        el.setAttribute("aria-valuetext", `${el.value} decibels`);
      }
      for (const picture of this.all) picture.image.glyph.color_mapper.setv({ low: Number(low.value), high: Number(high.value) });
    };
    for (const el of [low, high]) el.addEventListener("input", () => level(el));
    level(high);
    byId("truth").addEventListener("change", () => this.marks());
    byId("strips").addEventListener("change", (e) => {
      document.body.classList.toggle("no-strips", !e.target.checked);
      this.ask();
    });
    for (const el of document.querySelectorAll("input[name=unit]")) {
      el.addEventListener("change", () => {
        this.unit = el.value;
        this.lengths();
        this.draw();
      });
    }
    for (const el of document.querySelectorAll("input[name=drag]")) el.addEventListener("change", () => this.drag(el.value));
    if (window.matchMedia("(pointer: coarse)").matches) document.querySelector("input[name=drag][value=none]").checked = true;
    this.drag(document.querySelector("input[name=drag]:checked").value);
    for (const el of document.querySelectorAll("button[data-act]")) el.addEventListener("click", () => this.act(el.dataset.act));
    byId("wheel").addEventListener("change", () => this.wheel());
    this.wheel();
  }

  wheel() {
    for (const picture of this.all) picture.tools.wheel.active = byId("wheel").checked;
  }

  // What dragging does: moves the picture, zooms to a box, or nothing, so that a finger scrolls the page.
  drag(what) {
    for (const picture of this.all) {
      const { move, box } = picture.tools;
      [move.active, box.active] = [what === "move", what === "box"];
    }
    document.body.classList.toggle("hands-off", what === "none");
  }

  act(what) {
    const { x_range: x, y_range: y } = this.pictures[0].model;
    const view = this.pictures[0].range, home = this.home;
    const zoom = { in: 1 / 1.5, out: 1.5 }[what] ?? 1;
    if (what === "home") [view.x0, view.x1, view.y0, view.y1] = [home.x0, home.x1, home.y0, home.y1];
    const shift = { left: [-0.25, 0], right: [0.25, 0], up: [0, -0.25], down: [0, 0.25] }[what] ?? [0, 0];
    const span = (a, b, low, high, move, about) => {
      const size = Math.min(high - low, (b - a) * zoom);
      const share = about === null ? 0.5 : (about - a) / (b - a);
      let start = (about === null ? (a + b) / 2 : about) - share * size + move * size;
      start = Math.min(high - size, Math.max(low, start));
      return [start, start + size];
    };
    const inside = this.point !== null && !this.point.strip ? this.point : { x: null, y: null };
    const [x0, x1] = span(view.x0, view.x1, home.x0, home.x1, shift[0], zoom === 1 ? null : inside.x);
    const [y0, y1] = span(view.y0, view.y1, home.y0, home.y1, shift[1], zoom === 1 ? null : inside.y);
    x.setv({ start: x0, end: x1 });
    y.setv({ start: y1, end: y0 });
    this.ask();
  }

  pointers() {
    for (const picture of this.all) {
      const { holder } = picture;
      const move = (event) => {
        const place = picture.at(event);
        this.point = place === null ? null : { ...place, strip: picture.strip };
        this.show();
      };
      holder.addEventListener("pointermove", move);
      holder.addEventListener("pointerdown", move);
      holder.addEventListener("pointerleave", (event) => {
        if (event.pointerType === "mouse") this.point = null;
        this.show();
      });
      holder.addEventListener("keydown", (event) => this.key(event, picture));
    }
  }

  key(event, picture) {
    const act = { "+": "in", "=": "in", "-": "out", 0: "home", Home: "home" }[event.key];
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey || (!act && !step && event.key !== "Escape")) return;
    event.preventDefault();
    if (event.key === "Escape") this.point = null;
    else if (act) this.act(act);
    else if (event.shiftKey && !picture.strip) this.act(event.key.slice(5).toLowerCase());
    else {
      const { range, cells, by } = picture;
      const from = this.point !== null && this.point.strip === picture.strip ? this.point : { x: (range.x0 + range.x1) / 2, y: (range.y0 + range.y1) / 2 };
      const clip = (v, a, b) => Math.min(b, Math.max(a, v));
      this.point = {
        x: clip(from.x + step[0] * by.across * cells.width, range.x0, range.x1),
        y: clip(from.y + step[1] * by.down * cells.height, range.y0, range.y1),
        strip: picture.strip,
      };
    }
    this.show();
    byId("said").textContent = this.point === null ? "" : this.data.panels.map((p, i) => `${p.name}: ${this.sentence(i, this.point)}`).join(". ");
  }
}

open().then(
  (page) => {
    page.readyAfter = performance.now();
    window.pingwright = page;
    document.body.dataset.state = "ready";
  },
  (error) => {
    byId("trouble").hidden = false;
    document.body.dataset.state = "failed";
    throw error;
  },
);
