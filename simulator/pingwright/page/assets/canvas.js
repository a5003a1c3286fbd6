"use strict";
// One picture on a canvas: cells through the level colours, axes, marks beside the echoes. Nothing here fetches or evaluates.

const FOOT = 0.3048;

// Round values (1, 2, 5 times a power of ten), about `want` of them between low and high.
function roundTicks(low, high, want) {
  const rough = Math.abs(high - low) / Math.max(1, want);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough * 0.999);
  const first = Math.ceil(Math.min(low, high) / step - 1e-9), last = Math.floor(Math.max(low, high) / step + 1e-9);
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, k) => ({ value: (first + k) * step, digits }));
}

function number(value, digits) {
  if (Math.abs(value || 0) < 1e-9) return "0";
  return ((value || 0).toFixed(digits)).replace("-", "\u2212");
}

// A text as lines that are at most `room` wide [px], broken between words.
function linesOf(ctx, text, room) {
  return text.split(" ").reduce((lines, word) => {
    const longer = lines.length ? `${lines.at(-1)} ${word}` : word;
    return lines.length && ctx.measureText(longer).width <= room ? [...lines.slice(0, -1), longer] : [...lines, word];
  }, []);
}

// Places near x (sorted), at least `apart` from each other, inside 0..width: neighbours that are too close share the gap.
function teeth(x, width, apart) {
  const order = x.map((_, i) => i).sort((a, b) => x[a] - x[b]);
  apart = Math.min(apart, width / Math.max(1, x.length));
  const runs = [];
  order.forEach((index, k) => {
    runs.push({ sum: x[index] - k * apart, count: 1 });
    while (runs.length > 1 && runs.at(-2).sum / runs.at(-2).count > runs.at(-1).sum / runs.at(-1).count) {
      const last = runs.pop();
      runs.at(-1).sum += last.sum;
      runs.at(-1).count += last.count;
    }
  });
  const placed = [];
  let k = 0;
  for (const run of runs) {
    for (let i = 0; i < run.count; i++, k++) {
      placed[order[k]] = Math.min(Math.max(run.sum / run.count, 0), width - apart * (x.length - 1)) + k * apart;
    }
  }
  return placed;
}

class View {
  // cells: what is drawn; home: the whole of it; look: {colour, dash}; row: letter of a row, "" for the whole water.
  constructor(canvas, cells, home, look, row, first) {
    Object.assign(this, { canvas, cells, home, look, row, first });
    this.range = { ...home };
    this.by = { across: 1, down: 1 };
    this.marks = [];
    this.hidden = NaN;
    this.blind = 0;
    this.ping = null;
  }

  // Places on the canvas [CSS px]: the frame, and inside it the lanes beside the picture of a row.
  get box() {
    const wide = this.canvas.clientWidth, tall = this.canvas.clientHeight;
    const left = this.first ? 38 : 3, lane = this.row ? 7 : 0;
    const frame = { left, top: this.row ? 20 : 9, right: wide - 3, foot: tall - 19 };
    return { ...frame, lane, x0: frame.left + lane, x1: frame.right - lane };
  }

  toX(x) {
    const { x0, x1 } = this.box, { range: r } = this;
    return x0 + ((x - r.x0) / (r.x1 - r.x0)) * (x1 - x0);
  }

  toY(y) {
    const { top, foot } = this.box, { range: r } = this;
    return top + ((y - r.y0) / (r.y1 - r.y0)) * (foot - top);
  }

  at(px, py) {
    const { x0, x1, top, foot } = this.box, { range: r } = this;
    if (px < x0 || px > x1 || py < top || py > foot) return null;
    return { x: r.x0 + ((px - x0) / (x1 - x0)) * (r.x1 - r.x0), y: r.y0 + ((py - top) / (foot - top)) * (r.y1 - r.y0) };
  }

  draw(style, table, limits, unit, metresAlong, marked) {
    const density = window.devicePixelRatio || 1, { canvas } = this;
    canvas.width = Math.max(1, Math.round(canvas.clientWidth * density));
    canvas.height = Math.max(1, Math.round(canvas.clientHeight * density));
    const ctx = canvas.getContext("2d");
    ctx.setTransform(density, 0, 0, density, 0, 0);
    const box = this.box;
    if (box.x1 - box.x0 < 5) return;
    ctx.font = `11px ${style.font}`;
    ctx.fillStyle = style.panel;
    ctx.fillRect(box.left, box.top, box.right - box.left, box.foot - box.top);
    this.cellsTo(ctx, table, limits);
    this.frame(ctx, style, unit, metresAlong);
    if (this.row && this.flat) this.zero(ctx, style);
    if (!this.flat && this.blind > Math.min(this.range.y0, this.range.y1)) this.deaf(ctx, style);
    if (marked) this.comb(ctx, style, limits[0]);
    if (this.ping !== null) this.pointer(ctx, style);
  }

  get flat() {
    return this.range.y0 > this.range.y1;
  }

  cellsTo(ctx, table, [low, high]) {
    const box = this.box, density = window.devicePixelRatio || 1;
    const area = { width: (box.x1 - box.x0) * density, height: (box.foot - box.top) * density };
    this.by = this.cells.drawn(this.range, area);
    const picture = this.cells.picture(this.range, this.by);
    if (picture === null) return;
    const image = new ImageData(picture.columns, picture.rows);
    const scale = table.length / (high - low);
    for (let i = 0; i < picture.levels.length; i++) {
      const level = picture.levels[i];
      if (Number.isNaN(level)) continue;
      const colour = table[Math.min(table.length - 1, Math.max(0, Math.floor((level - low) * scale)))];
      image.data.set(colour, 4 * i);
    }
    const sheet = document.createElement("canvas");
    [sheet.width, sheet.height] = [picture.columns, picture.rows];
    sheet.getContext("2d").putImageData(image, 0, 0);
    ctx.save();
    ctx.beginPath();
    ctx.rect(box.x0, box.top, box.x1 - box.x0, box.foot - box.top);
    ctx.clip();
    ctx.imageSmoothingEnabled = false;
    const [x, y] = [this.toX(picture.x), this.toY(picture.y)];
    ctx.drawImage(sheet, x, y, this.toX(picture.x + picture.dw) - x, this.toY(picture.y + picture.dh) - y);
    ctx.restore();
  }

  frame(ctx, style, unit, metresAlong) {
    const box = this.box, { range: r } = this, one = unit === "ft" ? FOOT : 1;
    ctx.strokeStyle = style.muted;
    ctx.lineWidth = 1;
    ctx.strokeRect(box.left + 0.5, box.top + 0.5, box.right - box.left - 1, box.foot - box.top - 1);
    ctx.fillStyle = style.ink;
    ctx.textAlign = "center";
    ctx.textBaseline = "top";
    const along = metresAlong ? one : 1, tall = box.foot - box.top;
    const want = Math.max(2, (box.right - box.left) / 62);
    const ticks = roundTicks(r.x0 / along, r.x1 / along, want);
    let free = Infinity; // from the right, where the unit stands: a number that would touch its neighbour is left out
    ticks.reverse().forEach(({ value, digits }, k) => {
      const text = number(value, digits) + (k === 0 && metresAlong ? ` ${unit}` : "");
      const half = ctx.measureText(text).width / 2;
      const x = Math.min(Math.max(this.toX(value * along), half), this.canvas.clientWidth - half);
      ctx.fillRect(this.toX(value * along) - 0.5, box.foot, 1, 3);
      if (x + half + 4 > free) return;
      free = x - half;
      ctx.fillText(text, x, box.foot + 6);
    });
    if (!this.first) return;
    ctx.textAlign = "right";
    ctx.textBaseline = "middle";
    const down = roundTicks(r.y0 / one, r.y1 / one, Math.max(2, tall / 42)).sort((a, b) => this.toY(a.value) - this.toY(b.value));
    down.forEach(({ value, digits }, k) => {
      const y = this.toY(value * one), text = number(value, digits), named = `${text} ${unit}`;
      ctx.fillRect(box.left - 3, y - 0.5, 3, 1);
      // The uppermost number has the unit, where there is room for it.
      ctx.fillText(k === 0 && ctx.measureText(named).width < box.left - 5 ? named : text, box.left - 5, y);
    });
  }

  zero(ctx, style) {
    const box = this.box, y = this.toY(0);
    ctx.strokeStyle = style.halo;
    ctx.setLineDash([4, 3]);
    ctx.beginPath();
    ctx.moveTo(box.x0, y);
    ctx.lineTo(box.x1, y);
    ctx.stroke();
    ctx.setLineDash([]);
    if (!Number.isFinite(this.hidden)) return;
    ctx.fillStyle = this.look.colour;
    const top = Math.max(this.toY(this.hidden), box.top);
    ctx.fillRect(box.left + 2, top, 3.5, Math.max(1, y - top));
    if (this.toY(this.hidden) < box.top) this.triangle(ctx, box.left + 3.75, box.top - 3, 4, 0);
  }

  deaf(ctx, style) {
    const box = this.box, foot = Math.min(this.toY(this.blind), box.foot);
    if (foot <= box.top) return;
    ctx.fillStyle = style.panel;
    ctx.fillRect(box.x0, box.top, box.x1 - box.x0, foot - box.top);
    ctx.strokeStyle = style.muted;
    ctx.save();
    ctx.beginPath();
    ctx.rect(box.x0, box.top, box.x1 - box.x0, foot - box.top);
    ctx.clip();
    ctx.beginPath();
    for (let x = box.x0 - 40; x < box.x1; x += 7) {
      ctx.moveTo(x, foot + 1);
      ctx.lineTo(x + (foot - box.top) + 2, box.top - 1);
    }
    ctx.stroke();
    ctx.restore();
  }

  triangle(ctx, x, y, size, turn) {
    ctx.save();
    ctx.translate(x, y);
    ctx.rotate(turn);
    ctx.beginPath();
    ctx.moveTo(0, -size);
    ctx.lineTo(size, size);
    ctx.lineTo(-size, size);
    ctx.fill();
    ctx.restore();
  }

  pointer(ctx, style) {
    const box = this.box, x = this.toX(this.ping);
    if (x < box.x0 || x > box.x1) return;
    ctx.fillStyle = style.ink;
    this.triangle(ctx, x, box.foot + 3.5, 3, 0);
  }

  // Marks above the frame, hairlines through clear water, a ring in clear water or a triangle at the frame.
  comb(ctx, style, floor) {
    const box = this.box, { range: r } = this;
    const shown = this.marks.filter((m) => m.x >= r.x0 && m.x <= r.x1 && m.y >= Math.min(r.y0, r.y1) && m.y <= Math.max(r.y0, r.y1));
    const placed = teeth(shown.map((m) => this.toX(m.x) - box.x0), box.x1 - box.x0, 11);
    shown.forEach((mark, k) => {
      const x = this.toX(mark.x), y = this.toY(mark.y), tooth = box.x0 + placed[k];
      const apart = mark.mark === "separated", many = shown.length > 15;
      const ring = !apart && !many && this.clear(x, y, 6, floor);
      const end = many ? box.top : Math.max(box.top, Math.min(y - (ring ? 5 : 6), this.first_echo(x, y, floor) - 6));
      ctx.strokeStyle = ctx.fillStyle = style.mark;
      ctx.lineWidth = mark.fish === this.fish ? 2 : 1;
      ctx.beginPath();
      ctx.moveTo(tooth, box.top - 6);
      ctx.lineTo(x, box.top - 1);
      if (end > box.top + 3) ctx.lineTo(x, end);
      ctx.stroke();
      this.symbol(ctx, mark.mark, tooth, box.top - 11, mark.fish === this.fish ? 5.2 : 4);
      if (ring) {
        ctx.setLineDash([3, 2]);
        ctx.beginPath();
        ctx.arc(x, y, 5, 0, 2 * Math.PI);
        ctx.stroke();
        ctx.setLineDash([]);
      } else if (!apart && this.row) {
        this.triangle(ctx, box.right - 3.5, y, 3, -Math.PI / 2);
      }
    });
  }

  symbol(ctx, kind, x, y, size) {
    ctx.beginPath();
    if (kind === "not_shown") {
      ctx.lineWidth = 2;
      for (const s of [-1, 1]) {
        ctx.moveTo(x - size + 1, y - s * (size - 1));
        ctx.lineTo(x + size - 1, y + s * (size - 1));
      }
      ctx.stroke();
      return;
    }
    ctx.arc(x, y, size - 0.5, 0, 2 * Math.PI);
    if (kind === "separated") ctx.fill();
    else {
      ctx.stroke();
      ctx.beginPath();
      ctx.arc(x, y, size - 0.5, Math.PI / 2, 1.5 * Math.PI);
      ctx.fill();
    }
  }

  // Whether cells with an echo lie within `near` px of a place.
  clear(x, y, near, floor) {
    const a = this.at(Math.max(x - near, this.box.x0), Math.max(y - near, this.box.top));
    const b = this.at(Math.min(x + near, this.box.x1), Math.min(y + near, this.box.foot));
    return a !== null && b !== null && this.strongest(a, b) <= floor;
  }

  // The height on the canvas of the first echo in a strip about x above a place.
  first_echo(x, y, floor) {
    const { top } = this.box;
    for (let py = top; py < y; py += 1) {
      const a = this.at(Math.max(x - 1.5, this.box.x0), py), b = this.at(Math.min(x + 1.5, this.box.x1), py + 0.5);
      if (a !== null && b !== null && this.strongest(a, b) > floor) return py;
    }
    return y;
  }

  strongest(a, b) {
    const { cells } = this;
    const rows = [cells.row(a.y), cells.row(b.y)];
    const found = cells.largest(cells.column(a.x), cells.column(b.x) + 1, Math.min(...rows), Math.max(...rows) + 1);
    return found.column < 0 ? -Infinity : cells.level(found.code);
  }
}
