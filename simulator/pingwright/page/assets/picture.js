"use strict";
// One bokeh figure and the cells it shows: keeps the drawn picture at pixel size, by maximum, whatever the zoom.

const FEET = 1 / 0.3048;

// Round steps of 1, 2, 5 times a power of ten, about `want` of them between low and high, in a unit of `size` metres.
function roundTicks(low, high, want, size) {
  const span = Math.abs(high - low) / size;
  const rough = span / Math.max(1, want);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough);
  const ticks = [];
  for (let k = Math.ceil(Math.min(low, high) / size / step - 1e-9); k * step <= Math.max(low, high) / size + step * 1e-9; k++) {
    ticks.push(k * step);
  }
  return { ticks, digits: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)) };
}

class Picture {
  constructor(holder, model, view, cells, strip) {
    Object.assign(this, { holder, model, view, cells, strip });
    this.image = model.renderers.find((r) => r.name === "image");
    this.tools = Object.fromEntries(model.toolbar.tools.map((tool) => [tool.name, tool]));
    this.by = { across: 1, down: 1 };
    // The holder takes the focus, with a name and keys; the figure's own layer, which has neither, does not.
    view.canvas.events_el.tabIndex = -1;
    this.lines = ["across", "down"].map((name) => {
      const line = document.createElement("div");
      line.className = `hair ${name}`;
      line.hidden = true;
      holder.append(line);
      return line;
    });
  }

  get range() {
    const { x_range: x, y_range: y } = this.model;
    return { x0: Math.min(x.start, x.end), x1: Math.max(x.start, x.end), y0: Math.min(y.start, y.end), y1: Math.max(y.start, y.end) };
  }

  get frame() {
    const { left, top, width, height } = this.view.frame.bbox;
    return { left, top, width, height };
  }

  draw() {
    const { frame, range } = this;
    if (!(frame.width > 0 && frame.height > 0)) return;
    const density = Math.min(2, window.devicePixelRatio || 1);
    this.by = this.cells.drawn(range, { width: frame.width * density, height: frame.height * density });
    const picture = this.cells.picture(range, this.by);
    const source = this.image.data_source;
    if (picture === null) return;
    const Kind = source.data.image[0].constructor;
    source.data = {
      image: [new Kind(picture.levels.buffer, [picture.rows, picture.columns])],
      x: [picture.x], y: [picture.y], dw: [picture.dw], dh: [picture.dh],
    };
  }

  ticks(unit, metresAlong) {
    const { range, frame, model } = this;
    const set = (axis, low, high, want, size, sign) => {
      const { ticks, digits } = roundTicks(low, high, want, size);
      axis.major_label_overrides = new Map(ticks.map((t) => [t * size, ((sign * t) || 0).toFixed(digits)]));
      axis.ticker.ticks = ticks.map((t) => t * size);
    };
    const size = unit === "ft" ? 1 / FEET : 1;
    set(model.below[0], range.x0, range.x1, frame.width / 90, metresAlong ? size : 1, 1);
    set(model.left[0], range.y0, range.y1, frame.height / (this.strip ? 36 : 52), size, this.strip ? -1 : 1);
    model.below[0].axis_label = this.strip ? null : metresAlong ? `Along the track [${unit}]` : "Ping";
    model.left[0].axis_label = this.strip ? `Height [${unit}]` : `Depth [${unit}]`;
  }

  paint(style, table, low, high) {
    const { model } = this;
    const mapper = this.image.glyph.color_mapper;
    mapper.setv({ palette: table, low, high });
    model.setv({ background_fill_color: style.panel, border_fill_color: style.paper, outline_line_color: style.line });
    for (const axis of [model.below[0], model.left[0]]) {
      axis.setv({
        axis_label_text_color: style.ink, major_label_text_color: style.ink, axis_line_color: style.line,
        major_tick_line_color: style.line, minor_tick_line_color: null,
        axis_label_text_font_size: "13px", major_label_text_font_size: "12px",
        axis_label_text_font: style.font, major_label_text_font: style.font,
      });
    }
    for (const r of model.renderers) {
      if (r.name.endsWith("-halo")) r.glyph.line_color = style.halo;
      if (r.name.endsWith("-line")) r.glyph.line_color = style.mark;
      if (r.name.endsWith("-half")) r.glyph.fill_color = style.mark;
    }
  }

  mark(marks, on) {
    for (const r of this.model.renderers) {
      if (r.name === "image") continue;
      r.visible = on;
      if (!r.name.endsWith("-line")) continue;
      const mine = marks.filter((m) => m.mark === r.name.slice(0, -5));
      r.data_source.data = { x: mine.map((m) => m.x), y: mine.map((m) => (this.strip ? m.off : m.depth)) };
    }
  }

  // Data coordinates of a place on the screen, or null outside the frame.
  at(event) {
    const box = this.view.el.getBoundingClientRect();
    const { left, top, width, height } = this.frame;
    const sx = event.clientX - box.left, sy = event.clientY - box.top;
    if (sx < left || sy < top || sx > left + width || sy > top + height) return null;
    return { x: this.view.frame.x_scale.invert(sx), y: this.view.frame.y_scale.invert(sy) };
  }

  hair(point) {
    const [across, down] = this.lines;
    const { range, frame } = this;
    const shown = point !== null && point.x >= range.x0 && point.x <= range.x1;
    across.hidden = !(shown && point.y !== null && point.y >= range.y0 && point.y <= range.y1);
    down.hidden = !shown;
    if (!down.hidden) {
      const sx = this.view.frame.x_scale.compute(point.x);
      Object.assign(down.style, { left: `${sx}px`, top: `${frame.top}px`, height: `${frame.height}px` });
    }
    if (!across.hidden) {
      const sy = this.view.frame.y_scale.compute(point.y);
      Object.assign(across.style, { top: `${sy}px`, left: `${frame.left}px`, width: `${frame.width}px` });
    }
  }
}
