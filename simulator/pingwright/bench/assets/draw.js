"use strict";
/* Draws what the server sends: cells of pictures, combs of marks, the water cut along and across. Nothing is computed
   here but places on the screen. */
const Draw = (() => {
  const NS = "http://www.w3.org/2000/svg";

  function cellsOf(picture) {
    const text = atob(picture.cells), out = new Uint8Array(text.length);
    for (let i = 0; i < text.length; i++) out[i] = text.charCodeAt(i);
    return out;
  }

  /* The 256 colours of cells as the four bytes of a pixel. The last two tables are stored: chips and whole water share. */
  const shades = new Map();
  function shade(table, panel) {
    const name = panel + table[0] + table[table.length - 1];
    if (!shades.has(name)) {
      const bytes = new Uint8ClampedArray(4 * 256);
      for (let cell = 0; cell < 256; cell++) {
        const hex = cell === 0 ? panel : table[Math.round((cell - 1) / 254 * (table.length - 1))];
        bytes.set([...[1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16)), 255], 4 * cell);
      }
      if (shades.size > 1) shades.clear();
      shades.set(name, new Uint32Array(bytes.buffer));
    }
    return shades.get(name);
  }

  function image(picture, table, panel) {
    const canvas = document.createElement("canvas"), { columns, rows } = picture;
    canvas.width = columns;
    canvas.height = rows;
    const context = canvas.getContext("2d"), data = context.createImageData(columns, rows);
    const pixels = new Uint32Array(data.data.buffer), colours = shade(table, panel), cells = cellsOf(picture);
    for (let i = 0; i < cells.length; i++) pixels[i] = colours[cells[i]];
    context.putImageData(data, 0, 0);
    return canvas;
  }

  function sharp(canvas, width, height) {
    const ratio = window.devicePixelRatio || 1;
    canvas.style.height = height + "px";
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(height * ratio);
    const context = canvas.getContext("2d");
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.imageSmoothingEnabled = false;
    return context;
  }

  function ticks(low, high, most) {
    const span = Math.max(high - low, 1e-9);
    let step = 10 ** Math.floor(Math.log10(span));
    for (const factor of [0.1, 0.2, 0.5, 1, 2, 5]) if (span / (step * factor) <= most) { step *= factor; break; }
    const out = [];
    for (let v = Math.ceil(low / step) * step; v <= high + 1e-9; v += step) out.push(Math.abs(v) < step / 1e3 ? 0 : v);
    return out;
  }

  const label = (value) => String(+value.toPrecision(4)).replace("-", "\u2212");

  /* One picture with axes. place: x of metres along, y of metres down (or heights where the zone is flat). */
  function chip(canvas, picture, zone, look, options) {
    const context = sharp(canvas, options.width, options.height), type = parseFloat(look.font);
    const [size, unit] = zone.unit, comb = options.marks ? 8 + 2 * type : 4;
    const across = zone.across, top = picture.down[0], foot = picture.down[1];
    context.font = look.font;
    const downs = options.named ? ticks(Math.min(top, foot) / size, Math.max(top, foot) / size, options.height < 110 ? 3 : 6) : [];
    const axis = options.named ? 6 + Math.max(2 * type, ...downs.map((v) => context.measureText(label(v)).width)) : 6;
    const frame = { x: axis, y: comb, w: options.width - axis - 2, h: options.height - comb - 9 - type };
    const x = (v) => frame.x + (v - across[0]) / (across[1] - across[0]) * frame.w;
    const y = (v) => frame.y + (v - top) / (foot - top) * frame.h;
    const x0 = x(picture.across[0]), x1 = x(picture.across[1]);
    Object.assign(canvas, { frame, across });
    context.fillStyle = look.panel;
    context.fillRect(frame.x, frame.y, frame.w, frame.h);
    context.save();
    context.beginPath();
    context.rect(frame.x, frame.y, frame.w, frame.h);
    context.clip();
    context.drawImage(image(picture, look.table, look.panel), x0, frame.y, x1 - x0, frame.h);
    if (zone.flat) {
      context.setLineDash([5, 4]);
      line(context, frame.x, y(0), frame.x + frame.w, y(0), look.halo, 1.2);
      context.setLineDash([]);
    }
    context.restore();
    context.strokeStyle = look.ink;
    context.strokeRect(frame.x, frame.y, frame.w, frame.h);
    context.fillStyle = look.ink;
    const foot_ = frame.y + frame.h + 4 + type, free = frame.x + frame.w - context.measureText(unit).width - 4;
    context.textAlign = "center";
    for (const v of ticks(across[0] / size, across[1] / size, Math.max(2, Math.min(4, Math.floor(frame.w / (3 * type)))))) {
      if (x(v * size) + context.measureText(label(v)).width / 2 < free) context.fillText(label(v), x(v * size), foot_);
    }
    context.textAlign = "right";
    for (const v of downs) context.fillText(label(v), frame.x - 4, y(v * size) + 0.36 * type);
    context.fillText(unit, frame.x + frame.w, foot_);
    if (options.hidden > 0 && zone.flat) hiddenBar(context, frame, y, options, look);
    if (options.marks) marks(context, frame, x, y, options.marks, look);
  }

  function line(context, x0, y0, x1, y1, colour, width) {
    context.beginPath();
    context.moveTo(x0, y0);
    context.lineTo(x1, y1);
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.stroke();
    context.lineWidth = 1;
  }

  function hiddenBar(context, frame, y, options, look) {
    const top = Math.max(y(options.hidden), frame.y);
    context.fillStyle = look.panel;
    context.fillRect(frame.x + 1, top, 6, y(0) - top);
    context.fillStyle = options.colour;
    context.fillRect(frame.x + 2, top, 4, y(0) - top);
    if (y(options.hidden) < frame.y) {
      context.beginPath();
      context.moveTo(frame.x - 1, frame.y + 7);
      context.lineTo(frame.x + 4, frame.y);
      context.lineTo(frame.x + 9, frame.y + 7);
      context.fill();
    }
  }

  /* The comb: marks in ink above the frame, a hairline to each fish, a ring only where it is not separated. */
  function marks(context, frame, x, y, fish, look) {
    const order = fish.filter((f) => f.x !== null).sort((a, b) => a.x - b.x);
    const apart = Math.min(13, frame.w / Math.max(order.length, 1));
    let last = frame.x - apart;
    for (const one of order) {
      one.tooth = Math.max(Math.min(Math.max(x(one.x), frame.x), frame.x + frame.w), last + apart);
      last = one.tooth;
    }
    let over = frame.x + frame.w + apart;
    for (const one of [...order].reverse()) over = one.tooth = Math.min(one.tooth, over - apart);
    for (const one of order) {
      const at = x(one.x), down = one.y === null ? frame.y : Math.min(Math.max(y(one.y), frame.y), frame.y + frame.h);
      if (order.length <= 15) {
        for (const [colour, width] of [[look.halo, 3], [look.ink, 1]]) {
          line(context, one.tooth, frame.y - 4, at, frame.y + 8, colour, width);
          if (down > frame.y + 16) line(context, at, frame.y + 8, at, down - 8, colour, width);
        }
        if (one.mark !== "separated") ring(context, at, down, look);
      }
      symbol(context, one.tooth, frame.y - 9, one.mark, look);
      context.fillStyle = look.ink;
      context.textAlign = "center";
      context.fillText(String(one.fish), one.tooth, frame.y - 17, 13);
    }
  }

  function ring(context, x, y, look) {
    for (const [colour, width] of [[look.halo, 3.5], [look.ink, 1.2]]) {
      context.beginPath();
      context.setLineDash(width < 2 ? [3, 2] : []);
      context.arc(x, y, 6, 0, 2 * Math.PI);
      context.strokeStyle = colour;
      context.lineWidth = width;
      context.stroke();
    }
    context.setLineDash([]);
    context.lineWidth = 1;
  }

  function symbol(context, x, y, mark, look) {
    context.fillStyle = context.strokeStyle = look.ink;
    context.beginPath();
    if (mark === "not_shown") {
      for (const s of [1, -1]) line(context, x - 4, y - 4 * s, x + 4, y + 4 * s, look.ink, 2);
      return;
    }
    context.arc(x, y, 4, 0, 2 * Math.PI);
    context.stroke();
    context.beginPath();
    if (mark === "merged") context.arc(x, y, 4, Math.PI / 2, 1.5 * Math.PI);
    else context.arc(x, y, 4, 0, 2 * Math.PI);
    context.fill();
  }

  function node(parent, kind, attributes, text) {
    const made = document.createElementNS(NS, kind);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text !== undefined) made.textContent = text;
    parent.appendChild(made);
    return made;
  }

  /* The water cut open at one true scale. which: 0 along the track, 1 across it; boat [m]: where it is along the track.
     Returns the places of metres on the screen and how many metres a pixel is. */
  function water(svg, section, colours, which, unit, boat) {
    svg.replaceChildren();
    const box = { w: svg.clientWidth || 300, h: svg.clientHeight || 250 }, air = 16, floor = 16;
    const ground = which ? section.across : section.ground;
    const deepest = Math.max(...ground.map((p) => p[1])), scale = (box.h - air - floor) / Math.max(deepest, 1);
    const xs = section.boat.x, first = xs[0], last = xs[xs.length - 1], half = box.w / 2 / scale;
    const along = last - first > 2 * half ? Math.min(Math.max(boat, first + half), last - half) : (first + last) / 2;
    const middle = which ? 0 : along, hull = which ? 0 : boat;
    const x = (v) => box.w / 2 + (v - middle) * scale, y = (v) => air + v * scale;
    node(svg, "line", { x1: 0, x2: box.w, y1: air, y2: air, class: "tick" });
    for (const [i, beam] of section.beams.entries()) {
      const wide = (which ? beam.across : beam.along) / 2, tilt = which ? beam.tilt_across : beam.tilt_along;
      const edge = (angle) => x(hull + Math.tan(angle * Math.PI / 180) * deepest);
      const points = `${x(hull)},${y(section.boat.face)} ${edge(tilt - wide)},${y(deepest)} ${edge(tilt + wide)},${y(deepest)}`;
      node(svg, "polygon", { points, fill: colours[i], "fill-opacity": 0.1, stroke: colours[i], "stroke-width": 1.5 });
    }
    bodies(svg, section, which, ground, x, y, [middle - half, middle + half], box);
    node(svg, "path", { d: `M${x(hull) - 14} ${air - 8}h28l-6 8h-16z`, class: "fish" });
    if (!which) for (const v of ticks(0, deepest / unit[0], 4).slice(1)) {
      node(svg, "line", { x1: 0, x2: 6, y1: y(v * unit[0]), y2: y(v * unit[0]), class: "tick" });
      node(svg, "text", { class: "scale", x: 8, y: y(v * unit[0]) + 4 }, `${label(v)} ${unit[1]}`);
    }
    const lay = (points) => svg.querySelector(".ground").setAttribute("points", outline(points, x, y, [middle - half, middle + half], box));
    return { x, y, metres: 1 / scale, box, deepest, ends: [middle - half, middle + half], lay };
  }

  /* The ground's outline, level beyond its ends. */
  function outline(ground, x, y, [left, right], box) {
    const shape = [[left, ground[0][1]], ...ground.filter((p) => p[0] > left && p[0] < right), [right, ground[ground.length - 1][1]]];
    return `${shape.map((p) => `${x(p[0])},${y(p[1])}`).join(" ")} ${box.w},${box.h} 0,${box.h}`;
  }

  /* Ground, structures, layers, schools and fish. ends: first and last metre of the picture. */
  function bodies(svg, section, which, ground, x, y, ends, box) {
    const [left, right] = ends, pairs = (points) => points.map((p) => `${x(p[0])},${y(p[1])}`).join(" ");
    const deepest = Math.max(...ground.map((p) => p[1]));
    node(svg, "polygon", { class: "ground", points: outline(ground, x, y, ends, box) });
    for (const s of section.structures) node(svg, "polygon", { class: "body", "data-thing": s.name, points: pairs(which ? s.ahead : s.side) });
    for (const s of section.soft) {
      const [a, b] = which ? [s.box[2], s.box[3]] : [s.box[0], s.box[1]];
      const from = x(a === null ? left : a), to = x(b === null ? right : b);
      const foot = s.box[5] === null ? deepest : s.box[5], head = s.box[4] === null ? 0 : s.box[4];
      node(svg, "rect", { class: "soft", "data-thing": s.name, x: from, y: y(head), width: Math.max(to - from, 2), height: Math.max(y(foot) - y(head), 2), rx: s.kind === "school" ? 12 : 0 });
    }
    section.fish.forEach((f, i) => { fishAt(svg, x(which ? f.y : f.x), y(f.depth), Math.max(x(f.length) - x(0), 7)).dataset.thing = `fish ${i}`; });
  }

  function fishAt(svg, x, y, long) {
    return node(svg, "path", { class: "fish", d: `M${x - long / 2} ${y}q${long / 2} ${-long / 3} ${long * 0.8} 0l${long * 0.2} ${-long / 6}v${long / 3}l${-long * 0.2} ${-long / 6}q${-long * 0.3} ${long / 3} ${-long * 0.8} 0` });
  }

  /* The lens: heights hidden at each beam's edge as bars beside the fish's own height; y of metres over the ground.
     A picture of the rule, not the verdict. */
  function lens(svg, heights, colours, fish, unit, place) {
    const known = heights.filter((h) => h !== null), [size, name] = unit, foot = place.h - 7 - place.type, head = 6 + 1.9 * place.type;
    const top = Math.min(Math.max(1.4 * Math.max(fish, Math.min(...known)), 3 * 0.3048), Math.max(10 * 0.3048, 1.4 * fish));
    const y = (metres) => place.y + foot - Math.min(metres / top, 1) * (foot - head);
    node(svg, "rect", { class: "lens", x: place.x, y: place.y, width: place.w, height: place.h });
    node(svg, "rect", { class: "ground", x: place.x, y: place.y + foot, width: place.w, height: place.h - foot });
    node(svg, "text", { x: place.x + 6, y: place.y + 3 + place.type }, place.w < 20 * place.type ? "hidden at the edge" : "hidden at the beam's edge, and the fish");
    for (const v of ticks(0, top / size, 3).slice(1)) {
      node(svg, "line", { x1: place.x + 24, x2: place.x + place.w, y1: y(v * size), y2: y(v * size), class: "tick" });
      node(svg, "text", { x: place.x + 20, y: y(v * size) + 4, "text-anchor": "end" }, label(v));
    }
    const room = place.w - 28 - 62, wide = Math.min(34, room / Math.max(heights.length, 1) - 4);
    heights.forEach((height, i) => {
      if (height === null) return;
      const x = place.x + 30 + i * (wide + 4), up = y(height);
      node(svg, "rect", { x, y: up, width: wide, height: place.y + foot - up, fill: colours[i] });
      if (height > top) node(svg, "path", { d: `M${x} ${up}l${wide / 2} -7l${wide / 2} 7z`, fill: colours[i] });
      if (wide + 4 > 2.1 * place.type) node(svg, "text", { x: x + wide / 2, y: place.y + place.h - 5, "text-anchor": "middle" }, label(+(height / size).toFixed(1)));
    });
    node(svg, "text", { x: place.x + place.w - 4, y: place.y + place.h - 5, "text-anchor": "end" }, name);
    node(svg, "line", { x1: place.x + 24, x2: place.x + place.w, y1: y(fish), y2: y(fish), class: "level follows" });
    fishAt(svg, place.x + place.w - 31, y(fish), 22).classList.add("follows");
    return { y, top, metres: top / (foot - head), at: [place.x + place.w - 31, y(fish)] };
  }

  function scale(canvas, table) {
    const context = canvas.getContext("2d");
    for (let i = 0; i < canvas.width; i++) {
      context.fillStyle = table[Math.round(i / (canvas.width - 1) * (table.length - 1))];
      context.fillRect(i, 0, 1, canvas.height);
    }
  }

  return { chip, water, lens, node, scale, label };
})();
