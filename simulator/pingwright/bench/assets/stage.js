"use strict";
/* The stage: the water from the side and from astern, what can be dragged in it, the lens, and the boat on its track.
   Only places on the screen are computed here. */
const Stage = (() => {
  const FOOT = 0.3048, SECONDS = 8;
  const state = { message: null, theme: "light", change: null, choose: null, boat: null, moment: null, held: false, single: false, playing: 0, metres: [1, 1], view: 0, lens: null };
  const $ = (id) => document.getElementById(id);
  const mid = (span) => (span[0] + span[1]) / 2, round = (v) => Math.round(v * 1000) / 1000;
  const within = (v, low, high) => Math.min(Math.max(v, low), high);
  const ends = (values) => [Math.min(...values), Math.max(...values)];
  const unit = () => (state.message.zone ? state.message.zone.unit : [1, "m"]);
  const say = (v) => `${Draw.label(v / unit()[0])} ${unit()[1]}`;

  /* Show what the server sent. While something is dragged only the pictures follow; the stage does when it is let go.
     change: sends keys; choose: asks for the pictures of another table of fish. */
  function show(message, theme, change, choose) {
    Object.assign(state, { message, theme, change, choose });
    const xs = message.section.boat.x, title = message.title + message.moment;
    if (state.moment !== title || state.boat === null || state.boat < xs[0] || state.boat > xs[xs.length - 1]) {
      state.moment = title;
      state.boat = start(message);
    }
    if (!state.held) draw();
    hairs();
  }

  /* The boat begins over the fish that the answer is about. */
  function start(message) {
    const xs = message.section.boat.x, first = xs[0], last = xs[xs.length - 1];
    const fish = message.zone && message.zone.group ? ofGroup(message).map((f) => f.x) : [];
    return within(fish.length ? mid(ends(fish)) : (first + last) / 2, first, last);
  }

  const ofGroup = (message) => message.section.fish.filter((_, i) => message.zone.group.fish.includes(i));

  function draw() {
    const { message } = state, colours = message.elements.map((e) => e.colour[state.theme]);
    const focused = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.handle : null;
    const views = [["side", 0], ["ahead", 1]];
    for (const [id, which] of views) {
      const place = Draw.water($(id), message.section, colours, which, unit(), state.boat);
      state.metres[which] = place.metres;
      for (const handle of which ? [] : message.handles.filter((h) => h.kind === "ledge")) {
        handle.points.forEach((p, i) => Draw.node($(id), "circle", { class: "dot", cx: place.x(p[0]), cy: place.y(p[1]), r: 4, "data-thing": `ledge ${i}` }));
      }
      for (const [number, handle] of message.handles.entries()) {
        for (const part of parts(handle, which, place)) grip($(id), `${id}-${number}-${part.index}`, part, place);
      }
      if (!which) lens($(id), place, colours);
      $(id).onpointerdown = (event) => { const shape = taken($(id), event); if (shape) shape.begin(event); };
    }
    $("single").hidden = !message.handles.some((h) => h.alone);
    $("single").setAttribute("aria-pressed", String(state.single));
    boatSlider();
    const again = focused && document.querySelector(`[data-handle="${focused}"]`);
    if (again) again.focus();
  }

  /* A length as the scenario has it, and two of them, which are one where they are the same. */
  const text = (v) => `${+(v / unit()[0]).toFixed(unit()[1] === "m" ? 3 : 2)} ${unit()[1]}`;
  const span = (values) => (text(values[0]) === text(values[1]) ? text(values[0]) : values.map(text));

  /* What of a handle can be taken hold of in a view: its name, place [m], half its size, the drawings that move with it,
     and the keys that a move by (along or across, down) sets. */
  function parts(handle, which, place) {
    const side = which ? "y" : "x";
    if (handle.kind === "fish") return fishParts(handle, side);
    if (handle.kind === "ledge") return which ? [] : ledgeParts(handle, place);
    if (handle.kind === "layer") return which ? [] : [layerPart(handle, place)];
    return [{ index: 0, name: `${handle.kind}: ${handle.name}`, words: say(handle.shown), at: [handle[side], handle.shown], half: [2, 1], things: [handle.name],
      move: (d, dz) => ({ [`${handle.key}.${side}`]: text(handle[side] + d), ...lowered(handle, dz) }) }];
  }

  /* The key that a move of a school or target down by metres sets; a structure stays on the ground. */
  function lowered(handle, dz) {
    const kind = ["depth", "above_bottom", "above"].find((one) => handle[one] !== undefined);
    if (!kind) return {};
    return { [`${handle.key}.${kind}`]: text(kind === "depth" ? Math.max(handle.depth + dz, 0.5) : Math.max(handle[kind] - dz, 0)) };
  }

  /* A layer moves up and down; of one that stands on the ground, as weed does, the upper end. */
  function layerPart(handle, place) {
    const [top, foot] = handle.shown, [low, high] = handle.span, least = 0.1;
    return { index: 0, name: `Layer: ${handle.name}`, words: `${say(top)} to ${say(foot)}`, at: [mid(place.ends), mid(handle.shown)],
      half: [(place.ends[1] - place.ends[0]) / 2, (foot - top) / 2], things: [handle.name],
      move: (_, dz) => ({ [handle.key]: handle.stands ? [text(low), text(Math.max(high - dz, low + least))]
        : [text(Math.max(low + dz, 0)), text(Math.max(high + dz, high - low))] }) };
  }

  /* The points of a ground's profile, and a ledge as a whole by the middle of its face. A point stays between its
     neighbours. */
  function ledgeParts(handle, place) {
    const { points } = handle, least = 0.1, names = points.length === 2 ? ["Ledge, first edge", "Ledge, second edge"] : [];
    const laid = (index, dx, dz) => points.map((p, i) => (index !== i && index >= 0 ? p : [
      within(p[0] + dx, index > 0 ? points[i - 1][0] + least : -Infinity, index >= 0 && i + 1 < points.length ? points[i + 1][0] - least : Infinity),
      Math.max(p[1] + dz, 0.5)]));
    const part = (index, name, at, things) => ({ index, name, words: `${say(at[1])} deep, at ${say(at[0])}`, at, half: [0, 0], things,
      preview: (dx, dz) => place.lay(laid(index, dx, dz)),
      move: (dx, dz) => {
        const pairs = laid(index, dx, dz).map((p) => p.map(text));
        return index < 0 ? { [handle.key]: pairs } : { [`${handle.key}.${index + 1}`]: pairs[index] };
      } });
    const made = points.map((at, i) => part(i, names[i] || `Ground, point ${i + 1}`, at, [`ledge ${i}`]));
    if (points.length === 2) made.unshift(part(-1, "Ledge", [mid(points.map((p) => p[0])), mid(points.map((p) => p[1]))], ["ledge 0", "ledge 1"]));
    return made;
  }

  /* A table of fish, or each of its fish where they are moved one at a time. */
  function fishParts(handle, side) {
    const fish = handle.fish.map((i) => state.message.section.fish[i]), key = `${handle.key}.where`;
    const single = (k) => singleFish(handle, side, fish[k], k);
    if (state.single && handle.alone) return fish.map((_, k) => single(k));
    if (!handle[side]) return [];
    const a = ends(fish.map((f) => f[side])), z = ends(fish.map((f) => f.depth));
    return [{ index: 0, name: `Fish: ${handle.name}`, words: say(mid(ends(fish.map((f) => f.height)))) + " over the ground",
      at: [mid(a), mid(z)], half: [(a[1] - a[0]) / 2, (z[1] - z[0]) / 2], things: handle.fish.map((i) => `fish ${i}`), entry: handle.entry,
      nearest: handle.alone ? (at, down) => single(closest(fish.map((f) => Math.hypot(f[side] - at, f.depth - down)))) : null,
      move: (d, dz) => ({ [`${key}.${side}`]: span(handle[side].map((v) => v + d)), ...raised(handle, dz) }),
      lift: (dz) => lifted(handle, dz) }];
  }

  const closest = (values) => values.indexOf(Math.min(...values));

  /* One fish of a table by itself: it gets a table of its own. */
  function singleFish(handle, side, fish, k) {
    const other = side === "x" ? "y" : "x", number = handle.numbers[k];
    const height = (dz) => (handle.above_bottom ? { above_bottom: text(Math.max(fish.height - dz, 0.05)) } : { depth: text(Math.max(fish.depth + dz, 0.5)) });
    return { index: `one-${number}`, name: `Fish ${number} of ${handle.name}, by itself`, words: say(fish.height) + " over the ground",
      at: [fish[side], fish.depth], half: [0, 0], things: [`fish ${handle.fish[k]}`], single: true,
      move: (d, dz) => ({ [`${handle.key}.alone`]: { fish: number, entry: handle.next, length: `${round(fish.length)} m`,
        where: { [side]: text(fish[side] + d), [other]: text(fish[other]), ...height(dz) } } }) };
  }

  /* Spans of height or depth of fish moved down by metres: the key and its values [m]. */
  function lifted(handle, dz) {
    const kind = ["above_bottom", "above", "depth"].find((one) => handle[one]);
    return kind === "depth" ? [kind, handle.depth.map((v) => Math.max(v + dz, 0.5))] : [kind, handle[kind].map((v) => Math.max(v - dz, 0.05))];
  }

  function raised(handle, dz) {
    const [kind, values] = lifted(handle, dz);
    return { [`${handle.key}.where.${kind}`]: span(values) };
  }

  function grip(svg, id, part, place) {
    const wide = part.half[0] / place.metres + 16, high = part.half[1] / place.metres + 16;
    const shape = Draw.node(svg, "rect", { class: part.single ? "handle single" : "handle", tabindex: 0, role: "slider", "data-handle": id,
      "aria-label": part.name, "aria-valuetext": part.words, "aria-valuenow": part.at[1].toFixed(2),
      x: place.x(part.at[0]) - wide, y: place.y(part.at[1]) - high, width: 2 * wide, height: 2 * high });
    dragged(shape, place.metres, part, true);
    shape.inner = [wide - 16, high - 16];
    shape.metresAt = (x, y) => [part.at[0] + (x - place.x(part.at[0])) * place.metres, part.at[1] + (y - place.y(part.at[1])) * place.metres];
  }

  /* Where handles overlap, the one whose thing is nearest is taken; of things under the pointer, give or take 8 pixels,
     the smallest. */
  function taken(svg, event) {
    const found = [...svg.querySelectorAll(".handle")].map((shape) => {
      const box = shape.getBoundingClientRect(), [w, h] = shape.inner || [box.width / 2, box.height / 2];
      const dx = Math.abs(event.clientX - box.x - box.width / 2), dy = Math.abs(event.clientY - box.y - box.height / 2);
      return { shape, inside: dx <= box.width / 2 && dy <= box.height / 2, off: Math.hypot(Math.max(dx - w, 0), Math.max(dy - h, 0)), size: w * h };
    }).filter((one) => one.inside);
    const framed = (one) => one.shape.classList.contains("framed"), far = (one) => Math.max(one.off - 8, 0);
    found.sort((a, b) => framed(b) - framed(a) || far(a) - far(b) || a.size - b.size || a.off - b.off);
    return found.length ? found[0].shape : null;
  }

  /* While a thing is dragged, all drawings of it move with it; only pictures and words wait for the server. */
  function follow(part, dx, dz) {
    for (const [id, which] of [["side", 0], ["ahead", 1]]) {
      const metres = state.metres[which], x = which === state.view ? dx / metres : 0;
      $(id).querySelectorAll("[data-thing]").forEach((one) => {
        if (part.things.includes(one.dataset.thing)) one.setAttribute("transform", `translate(${x} ${dz / metres})`);
      });
    }
    if (part.preview) part.preview(dx, dz);
    if (!part.lift || part.entry !== state.message.entry) return;
    const [kind, values] = part.lift(dz), key = `fish.${part.entry}.where.${kind}`;
    const knob = [...document.querySelectorAll(".knob")].find((k) => k.dataset.key === key);
    if (state.lens) {
      const high = within(state.lens.fish - dz, 0, state.lens.top), move = state.lens.y(high) - state.lens.y(state.lens.fish);
      document.querySelectorAll("#side .follows").forEach((one) => one.setAttribute("transform", `translate(0 ${move})`));
    }
    if (knob) knob.update({ ...knob.shown(), value: mid(values) / unit()[0] });
  }

  /* Sends a change while the thing moves; only the newest waits for the answer. sideways: it may leave its column. Of a
     table of fish, Alt or a long touch takes the nearest fish alone. */
  function dragged(shape, metres, whole, sideways) {
    let from = null, part = whole, held = null;
    const by = (event) => [sideways ? event.clientX - from[0] : 0, event.clientY - from[1]];
    const alone = (event) => {
      const box = shape.ownerSVGElement.getBoundingClientRect();
      part = whole.nearest(...shape.metresAt(event.clientX - box.x, event.clientY - box.y));
      shape.classList.add("single");
    };
    shape.begin = (event) => {
      shape.setPointerCapture(event.pointerId);
      from = [event.clientX, event.clientY];
      part = whole;
      event.preventDefault();
      shape.focus();
      state.held = true;
      state.view = shape.ownerSVGElement.id === "ahead" ? 1 : 0;
      if (whole.nearest && event.altKey) alone(event);
      else if (whole.nearest && event.pointerType === "touch") held = setTimeout(() => alone(event), 500);
    };
    shape.onpointermove = (event) => {
      if (!from) return;
      const [dx, dy] = by(event);
      if (Math.hypot(dx, dy) > 4) clearTimeout(held);
      if (part === whole) shape.setAttribute("transform", `translate(${dx} ${dy})`);
      if (Math.hypot(dx, dy) <= 1) return;
      follow(part, dx * metres, dy * metres);
      state.change(part.move(dx * metres, dy * metres));
    };
    const end = (event, keep) => {
      if (!from) return;
      const [dx, dy] = by(event);
      clearTimeout(held);
      from = null;
      state.held = false;
      if (keep && Math.hypot(dx, dy) > 1) { state.change(part.move(dx * metres, dy * metres)); return; }
      draw();
      if (keep && whole.entry && whole.entry !== state.message.entry) state.choose(whole.entry);
    };
    shape.onpointerup = (event) => end(event, true);
    shape.onpointercancel = (event) => end(event, false);
    shape.onkeydown = (event) => {
      if (event.key === "Enter" && whole.entry) { event.preventDefault(); state.choose(whole.entry); return; }
      const times = event.shiftKey ? 10 : 1;
      const step = { ArrowLeft: [-FOOT, 0], ArrowRight: [FOOT, 0], ArrowUp: [0, -FOOT / 10], ArrowDown: [0, FOOT / 10] }[event.key];
      if (!step || event.altKey) return;
      event.preventDefault();
      event.stopPropagation();
      state.change(whole.move(sideways ? step[0] * times : 0, step[1] * times));
    };
  }

  /* The lens is where a fish a foot up can be taken hold of: in the true section that is a pixel. */
  function lens(svg, place, colours) {
    const { message } = state, handle = message.handles.find((h) => h.kind === "fish" && h.entry === message.entry);
    const zone = message.zone, heights = message.elements.map((e) => e.hidden);
    state.lens = null;
    if (!zone || !zone.near || !handle || heights.every((h) => h === null) || place.box.w < 220) return;
    const wide = Math.min(236, place.box.w * 0.6), high = Math.min(124, place.box.h * 0.5);
    const right = place.x(state.boat) > place.box.w / 2 ? 34 : place.box.w - wide - 4;
    const up = mid(ends(handle.fish.map((i) => message.section.fish[i].height)));
    const made = Draw.lens(svg, heights, colours, up, zone.unit, { x: right, y: 24, w: wide, h: high,
      type: parseFloat(getComputedStyle(document.body).getPropertyValue("--least")) });
    state.lens = { ...made, fish: up };
    const shape = Draw.node(svg, "rect", { class: "handle framed", tabindex: 0, role: "slider", "data-handle": "lens",
      "aria-label": `Height of ${handle.name}`, "aria-valuetext": say(up) + " over the ground",
      "aria-valuenow": up.toFixed(2), x: made.at[0] - 20, y: made.at[1] - 14, width: 40, height: 28 });
    dragged(shape, made.metres, { things: handle.fish.map((i) => `fish ${i}`), entry: handle.entry, move: (_, dz) => raised(handle, dz),
      lift: (dz) => lifted(handle, dz) }, false);
  }

  /* Fish are moved one at a time, or table by table. */
  function oneByOne() {
    state.single = !state.single;
    draw();
  }

  // ---- the boat on its track ---------------------------------------------------------------------------------
  function boatSlider() {
    const slider = $("boat"), xs = state.message.section.boat.x;
    slider.min = xs[0];
    slider.max = xs[xs.length - 1];
    slider.step = "any";
    slider.value = state.boat;
    slider.setAttribute("aria-valuetext", `boat at ${say(state.boat)}`);
    $("boat-at").textContent = say(state.boat);
    slider.oninput = () => { halt(); to(+slider.value); };
  }

  function to(along) {
    const xs = state.message.section.boat.x;
    state.boat = within(along, xs[0], xs[xs.length - 1]);
    if (!state.held) draw();
    hairs();
  }

  /* The boat's place in every picture, and pictures that move the boat. */
  function hairs() {
    document.querySelectorAll(".column .frame").forEach((frame) => {
      const canvas = frame.querySelector("canvas"), hair = frame.querySelector(".hair"), on = canvas.across && !frame.hidden;
      if (!on) { hair.hidden = true; return; }
      const part = (state.boat - canvas.across[0]) / (canvas.across[1] - canvas.across[0]);
      hair.hidden = part < 0 || part > 1;
      hair.style.left = `${canvas.frame.x + part * canvas.frame.w}px`;
      hair.style.top = `${canvas.frame.y}px`;
      hair.style.height = `${canvas.frame.h}px`;
      canvas.onpointermove = (event) => {
        if (event.pointerType === "touch" && !event.buttons) return;
        const place = (event.offsetX - canvas.frame.x) / canvas.frame.w;
        if (place >= 0 && place <= 1) { halt(); to(canvas.across[0] + place * (canvas.across[1] - canvas.across[0])); }
      };
    });
  }

  function halt() {
    cancelAnimationFrame(state.playing);
    state.playing = 0;
    $("play").setAttribute("aria-pressed", "false");
  }

  /* Let the boat run along its track, or stop it. */
  function play() {
    if (state.playing || !state.message) { halt(); return; }
    const xs = state.message.section.boat.x, first = xs[0], last = xs[xs.length - 1];
    const from = state.boat >= last - 1e-6 ? first : state.boat;
    let began = null;
    $("play").setAttribute("aria-pressed", "true");
    const step = (time) => {
      began = began === null ? time : began;
      const along = from + (time - began) / 1000 / SECONDS * (last - first);
      to(along);
      if (along < last) state.playing = requestAnimationFrame(step);
      else halt();
    };
    state.playing = requestAnimationFrame(step);
  }

  return { show, play, oneByOne };
})();
