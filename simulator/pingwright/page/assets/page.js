"use strict";
// The page: unpacks its cells, draws rows and whole water for every element, steps from fish to fish, keeps its state in the address.

const byId = (id) => document.getElementById(id);

async function open() {
  const data = JSON.parse(byId("pingwright-data").textContent);
  const page = new Page(data);
  await page.load();
  page.controls();
  page.recall();
  page.paint();
  return page;
}

class Page {
  constructor(data) {
    this.data = data;
    this.views = [];
    this.unit = data.unit;
    this.limits = [...data.limits];
    this.marked = true;
    this.fish = 0;
    this.active = null;
  }

  async load() {
    const { data } = this;
    for (const canvas of document.querySelectorAll("canvas[data-picture]")) {
      const element = data.elements[Number(canvas.dataset.element)], row = canvas.dataset.picture;
      const packed = element.pictures[row || "whole"];
      const cells = new Cells(packed, await unpack(packed.data), data.base, data.step);
      const [first, last] = data.along || [-Infinity, Infinity];
      const home = row ? { ...data.rows[row] } : {
        x0: Math.max(cells.left, first), x1: Math.min(cells.left + cells.columns * cells.width, last), y0: Math.max(0, data.depth[0]), y1: data.depth[1],
      };
      const view = new View(canvas, cells, home, { colour: element.colour.light, dash: element.dash }, row, canvas.dataset.first === "1");
      Object.assign(view, { element: Number(canvas.dataset.element), hidden: row ? element.hidden : NaN, blind: element.blind });
      const flat = home.y0 > home.y1;
      view.marks = row ? element.marks.filter((m) => data.groups[row]?.includes(m.fish)).map((m) => ({ ...m, y: flat ? m.height : m.depth })) : [];
      this.views.push(view);
    }
    this.lines = await Promise.all(data.elements.map(async ({ curves }) => curves && new Cells(curves, await unpack(curves.data), data.base, data.step)));
    window.addEventListener("resize", () => this.ask());
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.paint());
    for (const [kind, theme] of [["beforeprint", "light"], ["afterprint", ""]]) {
      window.addEventListener(kind, () => this.paint(theme));
    }
    this.views.forEach((view) => this.hands(view));
  }

  get theme() {
    const asked = document.documentElement.dataset.theme;
    return asked !== "auto" ? asked : matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }

  style() {
    const css = getComputedStyle(document.documentElement);
    return Object.fromEntries(["ink", "muted", "panel", "paper", "line", "mark", "halo", "font"].map((n) => [n, css.getPropertyValue(`--${n}`).trim()]));
  }

  // Paints everything in the theme of the sheet, or in the one asked for (print is light).
  paint(theme = "") {
    const used = theme || this.theme;
    if (theme) document.documentElement.dataset.paint = theme;
    else delete document.documentElement.dataset.paint;
    document.body.dataset.unit = this.unit;
    this.table = this.data.tables[used].map((hex) => [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16)).concat(255));
    for (const view of this.views) view.look.colour = this.data.elements[view.element].colour[used];
    const scale = byId("scale").getContext("2d");
    this.table.forEach((c, i) => {
      scale.fillStyle = `rgb(${c.slice(0, 3)})`;
      scale.fillRect((i / this.table.length) * 200, 0, 200 / this.table.length + 1, 12);
    });
    this.used = used;
    this.lengths();
    this.draw();
    this.curves();
  }

  ask() {
    cancelAnimationFrame(this.asked);
    this.asked = requestAnimationFrame(() => {
      this.draw();
      this.curves();
    });
  }

  draw() {
    const style = this.style(), fish = this.data.fish.length ? this.fish : -1;
    for (const view of this.views) {
      const mark = this.data.elements[view.element].marks[this.fish];
      Object.assign(view, { fish, ping: mark ? mark.x : null });
      view.draw(style, this.table, this.limits, this.unit, this.data.metresAlong, this.marked);
    }
    const moved = this.data.fish.length ? this.data.elements[0].marks[this.fish].x : 0;
    for (const beams of document.querySelectorAll("g.beams[data-scale]")) {
      beams.setAttribute("transform", `translate(${(moved - Number(beams.dataset.x)) * Number(beams.dataset.scale)} 0)`);
    }
    this.remember();
  }

  lengths() {
    for (const el of document.querySelectorAll(".length")) {
      const m = Number(el.dataset.m), digits = Number(el.dataset.digits);
      const inches = Math.abs(m) < 0.95 * FOOT;
      const feet = inches ? `${two((m / FOOT) * 12)}\u00a0in` : `${(m / FOOT).toFixed(digits === 0 ? 0 : 1)}\u00a0ft`;
      const metres = Math.abs(m) >= 1 || m === 0 ? `${m.toFixed(digits)}\u00a0m` : `${two(100 * m)}\u00a0cm`;
      el.textContent = (this.unit === "ft" ? feet : metres).replace("-", "\u2212");
    }
  }

  inUnits(metres) {
    if (this.unit === "ft") return Math.abs(metres) < 0.95 * FOOT ? `${two((metres / FOOT) * 12)} in` : `${(metres / FOOT).toFixed(1)} ft`;
    return Math.abs(metres) < 1 ? `${two(metres * 100)} cm` : `${metres.toFixed(1)} m`;
  }

  // What an element shows at a place: level [dB re 1 m2], depth or height [m], and of how much it is the maximum.
  readout(index, x, y, row = "") {
    const view = this.views.find((v) => v.element === index && v.row === row);
    return view.cells.under(x, y, view.by);
  }

  say(view, place) {
    const line = byId("read");
    if (place === null) {
      line.textContent = "\u00a0";
      return;
    }
    const parts = this.data.elements.map((element, i) => {
      const found = this.readout(i, place.x, place.y, view.row);
      return found && !Number.isNaN(found.level) ? `${element.name} ${number(found.level, 0)} dB` : `${element.name}: nothing`;
    });
    const across = this.data.metresAlong ? this.inUnits(place.x) : `ping ${Math.round(place.x) + 1}`;
    line.textContent = `${across} along, ${this.inUnits(place.y)} ${view.flat ? "up" : "deep"}: ${parts.join(", ")}`.replaceAll("-", "\u2212");
  }

  // All pictures of one kind move together.
  same(view) {
    return this.views.filter((v) => v.row === view.row);
  }

  move(view, range) {
    const { home } = view, wide = home.x1 - home.x0, tall = home.y1 - home.y0;
    const size = { x: Math.min(range.x1 - range.x0, wide), y: Math.min(Math.abs(range.y1 - range.y0), Math.abs(tall)) * Math.sign(tall) };
    const x0 = Math.min(Math.max(range.x0, home.x0), home.x1 - size.x);
    const [low, high] = [Math.min(home.y0, home.y1), Math.max(home.y0, home.y1)];
    const y0 = size.y > 0 ? Math.min(Math.max(range.y0, low), high - size.y) : Math.max(Math.min(range.y0, high), low - size.y);
    for (const each of this.same(view)) each.range = { x0, x1: x0 + size.x, y0, y1: y0 + size.y };
    this.ask();
  }

  // Zooms about a place along the track and, in depth, about the ground, so that the bottom stays in sight.
  zoom(view, factor, place = null) {
    const { range: r } = view, ground = view.flat ? 0 : this.data.ground;
    const x = place === null ? (r.x0 + r.x1) / 2 : place.x;
    const y = Math.min(Math.max(ground, Math.min(r.y0, r.y1)), Math.max(r.y0, r.y1));
    this.move(view, { x0: x + (r.x0 - x) * factor, x1: x + (r.x1 - x) * factor, y0: y + (r.y0 - y) * factor, y1: y + (r.y1 - y) * factor });
  }

  hands(view) {
    const { canvas } = view;
    const place = (event) => view.at(event.offsetX, event.offsetY);
    let held = null;
    canvas.addEventListener("pointermove", (event) => {
      this.say(view, place(event));
      if (held === null || this.active !== view) return;
      const { box, range: r } = view;
      const x = ((held.px - event.offsetX) / (box.x1 - box.x0)) * (r.x1 - r.x0), y = ((held.py - event.offsetY) / (box.foot - box.top)) * (r.y1 - r.y0);
      held = { px: event.offsetX, py: event.offsetY };
      this.move(view, { x0: r.x0 + x, x1: r.x1 + x, y0: r.y0 + y, y1: r.y1 + y });
    });
    canvas.addEventListener("pointerdown", (event) => {
      if (this.active === view) {
        held = { px: event.offsetX, py: event.offsetY };
        canvas.setPointerCapture(event.pointerId);
      }
      this.say(view, place(event));
    });
    canvas.addEventListener("pointerup", () => (held = null));
    canvas.addEventListener("click", () => this.activate(view));
    canvas.addEventListener("focus", () => this.activate(view));
    canvas.addEventListener("blur", () => this.activate(null));
    canvas.addEventListener("wheel", (event) => {
      if (this.active !== view) return; // the page scrolls until a picture is clicked
      event.preventDefault();
      this.zoom(view, event.deltaY > 0 ? 1.25 : 0.8, place(event));
    }, { passive: false });
    canvas.addEventListener("keydown", (event) => this.key(view, event));
  }

  activate(view) {
    this.active = view;
    for (const each of this.views) each.canvas.classList.toggle("active", each === view);
  }

  key(view, event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const { range: r } = view;
    if (step) {
      const [x, y] = [step[0] * 0.15 * (r.x1 - r.x0), step[1] * 0.15 * (r.y1 - r.y0)];
      this.move(view, { x0: r.x0 + x, x1: r.x1 + x, y0: r.y0 + y, y1: r.y1 + y });
    } else if ("+=-".includes(event.key)) this.zoom(view, event.key === "-" ? 1.5 : 1 / 1.5);
    else if (event.key === "0" || event.key === "Home") this.move(view, view.home);
    else if (event.key === "Escape") view.canvas.blur();
    else return;
    event.preventDefault();
  }

  step(by) {
    const count = this.data.fish.length;
    if (!count) return;
    this.fish = (this.fish + by + count) % count;
    this.ask();
    this.about();
  }

  about() {
    const { data } = this, fish = data.fish[this.fish];
    if (!fish) return;
    const states = data.elements.map((e) => {
      const mark = e.marks[this.fish];
      return `${e.name}: ${data.meaning[mark.mark]}${mark.reason ? ` (${mark.reason})` : ""}${mark.passes ? `; ${mark.passes}` : ""}`;
    });
    byId("fish-name").textContent = `Fish ${this.fish + 1} of ${data.fish.length}`;
    byId("fish-text").textContent = `${this.inUnits(fish.length)} long, ${this.inUnits(fish.height)} off the bottom. ${states.join("; ")}.`;
  }

  // The ping over the fish as every element records it, on one axis: level to the right, height or depth up.
  curves() {
    const canvas = byId("curves"), { data } = this, fish = data.fish[this.fish];
    if (!canvas || !fish) return;
    this.about();
    const style = this.style(), density = window.devicePixelRatio || 1;
    [canvas.width, canvas.height] = [canvas.clientWidth * density, canvas.clientHeight * density];
    const ctx = canvas.getContext("2d");
    ctx.setTransform(density, 0, 0, density, 0, 0);
    ctx.font = `11px ${style.font}`;
    const told = linesOf(ctx, `echo strength (dB); height over the ground (${this.unit}); dotted: floor of a detection`, canvas.clientWidth);
    const box = { left: 44, right: canvas.clientWidth - 8, top: 8, foot: canvas.clientHeight - 18 - 13 * told.length };
    const ground = data.elements[0].marks[this.fish].depth + data.elements[0].marks[this.fish].height;
    const above = Math.max(1.2, Math.min(fish.height * 1.6, fish.height + 2)), under = fish.height > 4 ? fish.height - 3 : -0.3;
    const [low, high] = this.limits, one = this.unit === "ft" ? FOOT : 1;
    const toX = (level) => box.left + ((Math.min(Math.max(level, low), high) - low) / (high - low)) * (box.right - box.left);
    const toY = (up) => box.top + ((above - up) / (above - under)) * (box.foot - box.top);
    ctx.fillStyle = style.panel;
    ctx.fillRect(box.left, box.top, box.right - box.left, box.foot - box.top);
    this.rules = [];
    data.elements.forEach((element, i) => {
      const view = this.views.find((v) => v.element === i && v.row === ""), { cells } = view, mark = element.marks[this.fish];
      const column = Math.min(cells.columns - 1, Math.max(0, cells.column(mark.x)));
      const base = mark.depth + mark.height;
      ctx.strokeStyle = element.colour[this.used];
      ctx.lineWidth = 1.6;
      ctx.setLineDash(element.dash.map((d) => d * 1.5));
      ctx.beginPath();
      let begun = false, peak = -Infinity, strongest = -Infinity;
      const line = this.lines[i], top = line.tops[this.fish], step = line.heights[this.fish];
      for (let row = 0; row < line.rows; row++) {
        const up = base - (top + (row + 0.5) * step);
        if (up > above || up < under) continue;
        const level = line.level(line.codes[this.fish * line.rows + row]);
        ctx[begun ? "lineTo" : "moveTo"](toX(Number.isNaN(level) ? low : level), toY(up));
        begun = true;
        if (Math.abs(up - fish.height) < Math.max(0.15 * fish.height, 0.06)) peak = Math.max(peak, level);
      }
      ctx.stroke();
      ctx.setLineDash([]);
      for (let row = Math.max(0, cells.row(base - 0.3)); row < cells.rows; row++) {
        const level = cells.level(cells.codes[column * cells.rows + row]);
        if (level > strongest) strongest = level;
      }
      // The rule: between fish and bottom a gap must lie left of this line.
      const rule = Math.min(peak - data.rule[0], strongest - data.rule[1]);
      if (Number.isFinite(rule) && fish.height < 4) {
        ctx.lineWidth = 3;
        ctx.globalAlpha = 0.45;
        ctx.beginPath();
        ctx.moveTo(toX(rule), toY(fish.height));
        ctx.lineTo(toX(rule), toY(Math.max(0, under)));
        ctx.stroke();
        ctx.globalAlpha = 1;
      }
      this.rules[i] = rule;
    });
    ctx.fillStyle = style.ink;
    ctx.strokeStyle = style.ink;
    ctx.lineWidth = 1;
    for (const [x0, y0, x1, y1] of [[box.left, toY(fish.height), box.right, toY(fish.height)], [toX(data.floor), box.top, toX(data.floor), box.foot]]) {
      ctx.setLineDash([2, 3]);
      ctx.beginPath();
      ctx.moveTo(x0, y0);
      ctx.lineTo(x1, y1);
      ctx.stroke();
      ctx.setLineDash([]);
    }
    ctx.textAlign = "right";
    ctx.textBaseline = "middle";
    for (const { value, digits } of roundTicks(under / one, above / one, 5)) ctx.fillText(number(value, digits), box.left - 5, toY(value * one));
    ctx.fillText("fish", box.right - 3, toY(fish.height) - 8);
    ctx.textAlign = "center";
    ctx.textBaseline = "top";
    for (const { value } of roundTicks(low, high, 5)) ctx.fillText(number(value, 0), toX(value), box.foot + 3);
    told.forEach((line, k) => ctx.fillText(line, canvas.clientWidth / 2, box.foot + 17 + 13 * k));
    this.grounded = ground;
  }

  controls() {
    const pressed = (id, on) => byId(id).setAttribute("aria-pressed", String(on));
    byId("unit").addEventListener("click", () => {
      this.unit = this.unit === "m" ? "ft" : "m";
      this.paint();
    });
    byId("dark").addEventListener("click", () => {
      document.documentElement.dataset.theme = this.theme === "dark" ? "light" : "dark";
      pressed("dark", this.theme === "dark");
      this.paint();
    });
    byId("marks").addEventListener("click", () => {
      this.marked = !this.marked;
      pressed("marks", this.marked);
      this.ask();
    });
    byId("save").addEventListener("click", () => this.save());
    byId("back").addEventListener("click", () => this.step(-1));
    byId("forward").addEventListener("click", () => this.step(1));
    byId("rest").addEventListener("click", () => {
      byId("elements").classList.toggle("all");
      this.ask();
    });
    byId("home").addEventListener("click", () => this.views.forEach((view) => this.move(view, view.home)));
    for (const [id, place] of [["low", 0], ["high", 1]]) {
      byId(id).addEventListener("input", () => {
        const value = Number(byId(id).value);
        this.limits[place] = place ? Math.max(value, this.limits[0] + 5) : Math.min(value, this.limits[1] - 5);
        this.shown();
        this.ask();
      });
    }
    for (const each of document.querySelectorAll("button[data-zoom]")) {
      each.addEventListener("click", () => this.zoom(this.views.find((v) => v.row === ""), Number(each.dataset.zoom)));
    }
  }

  shown() {
    for (const [id, place] of [["low", 0], ["high", 1]]) {
      byId(id).value = String(this.limits[place]);
      byId(`${id}-value`).textContent = `${number(this.limits[place], 0)} dB`;
    }
  }

  // The view as a picture: answer, tag and the pictures as they stand.
  save() {
    const out = document.createElement("canvas"), density = window.devicePixelRatio || 1, style = this.style();
    const holders = [...document.querySelectorAll(".elements canvas")], area = byId("elements").getBoundingClientRect();
    [out.width, out.height] = [area.width * density, (area.height + 96) * density];
    const ctx = out.getContext("2d");
    ctx.scale(density, density);
    ctx.fillStyle = style.paper;
    ctx.fillRect(0, 0, area.width, area.height + 96);
    ctx.fillStyle = style.ink;
    ctx.textBaseline = "top";
    ctx.font = `bold 20px ${style.font}`;
    ctx.fillText(document.querySelector(`h1 .${this.unit}`).textContent, 4, 8, area.width - 8);
    ctx.font = `13px ${style.font}`;
    ctx.fillText(`SIMULATED. ${document.title}`, 4, 40, area.width - 8);
    for (const text of document.querySelectorAll(".elements [data-copy]")) {
      const at = text.getBoundingClientRect(), css = getComputedStyle(text);
      [ctx.font, ctx.fillStyle] = [`${css.fontWeight} ${css.fontSize} ${style.font}`, css.color];
      ctx.fillText(text.innerText, at.left - area.left, at.top - area.top + 64, at.width + 4);
    }
    for (const canvas of holders) {
      const at = canvas.getBoundingClientRect();
      ctx.drawImage(canvas, at.left - area.left, at.top - area.top + 64, at.width, at.height);
    }
    ctx.font = `12px ${style.font}`;
    ctx.fillStyle = style.muted;
    ctx.fillText(byId("caution").textContent, 4, area.height + 76, area.width - 8);
    this.saved = out;
    out.toBlob((blob) => {
      const link = document.createElement("a");
      link.href = URL.createObjectURL(blob);
      link.download = "view.png";
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 1000);
    });
  }

  // The address holds units, theme, fish, levels and the window of the whole water.
  remember() {
    const whole = this.views.find((v) => v.row === ""), { range: r } = whole;
    const state = { u: this.unit, t: document.documentElement.dataset.theme, f: this.fish + 1, l: this.limits.join("_"), m: this.marked ? 1 : 0,
      w: [r.x0, r.x1, r.y0, r.y1].map((v) => v.toFixed(2)).join("_") };
    history.replaceState(null, "", `#${new URLSearchParams(state)}`);
  }

  recall() {
    const state = new URLSearchParams(location.hash.slice(1));
    const numbers = (text, count) => {
      const found = (text || "").split("_").map(Number);
      return found.length === count && found.every(Number.isFinite) ? found : null;
    };
    if (["m", "ft"].includes(state.get("u"))) this.unit = state.get("u");
    if (["auto", "light", "dark"].includes(state.get("t"))) document.documentElement.dataset.theme = state.get("t");
    const fish = Number(state.get("f")) - 1;
    if (Number.isInteger(fish) && fish >= 0 && fish < this.data.fish.length) this.fish = fish;
    const limits = numbers(state.get("l"), 2);
    if (limits && limits[1] - limits[0] >= 5) this.limits = limits;
    this.marked = state.get("m") !== "0";
    const at = numbers(state.get("w"), 4), whole = this.views.find((v) => v.row === "");
    if (at && at[1] > at[0] && at[3] > at[2]) this.move(whole, { x0: at[0], x1: at[1], y0: at[2], y1: at[3] });
    this.shown();
  }
}

// A number with two figures, at most two decimals.
function two(value) {
  if (Math.abs(value) < 0.005) return "0";
  const digits = Math.min(Math.max(1 - Math.floor(Math.log10(Math.abs(value))), 0), 2);
  const text = value.toFixed(digits);
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
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
