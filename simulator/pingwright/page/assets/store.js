"use strict";
// Levels as the page holds them: cells of echo strength, unpacked from the page's own data, and their maxima.

async function unpack(text) {
  const packed = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const planes = new Uint8Array(await new Response(stream).arrayBuffer());
  const count = planes.length / 2;
  const codes = new Uint16Array(count);
  for (let i = 0; i < count; i++) codes[i] = (planes[i] << 8) | planes[count + i];
  return codes;
}

class Cells {
  constructor(packed, codes, base, step) {
    Object.assign(this, packed);
    this.data = null;
    this.codes = codes;
    this.base = base;
    this.step = step;
  }

  level(code) {
    return code === 0 ? NaN : this.base + this.step * (code - 1);
  }

  column(x) {
    return Math.floor((x - this.left) / this.width);
  }

  row(depth) {
    return Math.floor((depth - this.top) / this.height);
  }

  // The largest code among columns c0..c1-1 and rows r0..r1-1, and where it stands.
  largest(c0, c1, r0, r1) {
    let code = 0, column = -1, row = -1;
    for (let c = Math.max(0, c0); c < Math.min(this.columns, c1); c++) {
      for (let r = Math.max(0, r0), at = c * this.rows + r; r < Math.min(this.rows, r1); r++, at++) {
        if (this.codes[at] > code) [code, column, row] = [this.codes[at], c, r];
      }
    }
    return { code, column, row };
  }

  // How many cells go into one drawn cell so that a drawn cell is a pixel or more and none is lost, for a view and a frame.
  drawn(view, frame) {
    const across = (view.x1 - view.x0) / this.width / frame.width;
    const down = (view.y1 - view.y0) / this.height / frame.height;
    return { across: Math.max(1, Math.ceil(across)), down: Math.max(1, Math.ceil(down)) };
  }

  // The picture of a view: the maximum of every drawn cell, (row, column) from the top, and the place of its corner.
  picture(view, by) {
    const clip = (value, end) => Math.min(end, Math.max(0, value));
    const c0 = Math.floor(clip(this.column(view.x0), this.columns) / by.across) * by.across;
    const r0 = Math.floor(clip(this.row(view.y0), this.rows) / by.down) * by.down;
    const columns = Math.ceil((clip(this.column(view.x1) + 1, this.columns) - c0) / by.across);
    const rows = Math.ceil((clip(this.row(view.y1) + 1, this.rows) - r0) / by.down);
    if (columns < 1 || rows < 1) return null;
    const most = new Uint16Array(columns * rows);
    for (let c = c0, lastColumn = Math.min(this.columns, c0 + columns * by.across); c < lastColumn; c++) {
      const j = Math.floor((c - c0) / by.across);
      const end = Math.min(this.rows, r0 + rows * by.down);
      for (let r = r0, i = 0, left = by.down, at = c * this.rows + r0; r < end; r++, at++) {
        const place = i * columns + j;
        if (this.codes[at] > most[place]) most[place] = this.codes[at];
        if (--left === 0) {
          left = by.down;
          i++;
        }
      }
    }
    const levels = new Float32Array(columns * rows);
    for (let i = 0; i < most.length; i++) levels[i] = this.level(most[i]);
    return {
      levels, columns, rows,
      x: this.left + c0 * this.width, y: this.top + r0 * this.height,
      dw: columns * by.across * this.width, dh: rows * by.down * this.height,
    };
  }

  // What stands under a point: the largest level of the drawn cell there, its depth, and what was joined in it.
  under(x, depth, by) {
    const c = this.column(x), r = this.row(depth);
    if (c < 0 || r < 0 || c >= this.columns || r >= this.rows) return null;
    const c0 = Math.floor(c / by.across) * by.across, r0 = Math.floor(r / by.down) * by.down;
    const found = this.largest(c0, c0 + by.across, r0, r0 + by.down);
    const pings = Math.min(this.pingCount, (c0 + by.across) * this.pings) - c0 * this.pings;
    const samples = Math.min(this.sampleCount, (r0 + by.down) * this.samples) - r0 * this.samples;
    return {
      level: this.level(found.code), pings, samples,
      firstPing: c0 * this.pings, firstSample: r0 * this.samples,
      depth: found.row < 0 ? depth : this.top + (found.row + 0.5) * this.height,
      x: found.column < 0 ? x : this.left + (found.column + 0.5) * this.width,
    };
  }
}
