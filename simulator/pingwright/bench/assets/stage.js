"use strict";
/* The stage: the water from the side and from astern, what can be dragged in it, the lens, and the boat on its track.
   Only places on the screen are computed here. */
const Stage = (() => {
  const FOOT = 0.3048, SECONDS = 8;
  const state = { message: null, theme: "light", change: null, boat: null, moment: null, held: false, playing: 0, metres: [1, 1], view: 0, lens: null };
  const $ = (id) => document.getElementById(id);
  const mid = (span) => (span[0] + span[1]) / 2, round = (v) => Math.round(v * 1000) / 1000;
  const within = (v, low, high) => Math.min(Math.max(v, low), high);
  const ends = (values) => [Math.min(...values), Math.max(...values)];
  const unit = () => (state.message.zone ? state.message.zone.unit : [1, "m"]);
  const say = (v) => `${Draw.label(v / unit()[0])} ${unit()[1]}`;

  /* Show what the server sent. While something is dragged only the pictures follow; the stage does when it is let go. */
  function show(message, theme, change) {
    Object.assign(state, { message, theme, change });
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
      for (const [number, handle] of message.handles.entries()) {
        for (const part of parts(handle, which, place)) grip($(id), `${id}-${number}-${part.index}`, part, place);
      }
      if (!which) lens($(id), place, colours);
    }
    boatSlider();
    const again = focused && document.querySelector(`[data-handle="${focused}"]`);
    if (again) again.focus();
  }

  /* What of a handle can be taken hold of in a view: its place [m], half its size, and the keys that a move by (along or
     across, down) sets. */
  function parts(handle, which, place) {
    const { message } = state, side = which ? "y" : "x";
    if (handle.kind === "fish") return fishParts(handle, side);
    if (handle.kind === "ledge") {
      return which ? [] : handle.points.map((point, index) => ({ index, name: `Ledge point ${index + 1}`, words: say(point[1]) + " deep",
        at: point, half: [0, 0], move: (dx, dz) => ({ [handle.key]: handle.points.map((p, i) =>
          i === index ? [round(p[0] + dx), round(p[1] + dz)] : p) }) }));
    }
    if (handle.kind === "layer") {
      return which ? [] : [{ index: 0, name: `Layer: ${handle.name}`, words: `${say(handle.depth[0])} to ${say(handle.depth[1])}`,
        at: [mid(place.ends), mid(handle.depth)], half: [(place.ends[1] - place.ends[0]) / 2, (handle.depth[1] - handle.depth[0]) / 2], thing: handle.name,
        move: (_, dz) => ({ [handle.key]: handle.depth.map((v) => round(Math.max(v + dz, 0.5))) }) }];
    }
    const z = handle.depth === null || handle.depth === undefined ? handle.shown : handle.depth;
    const deep = handle.kind === "school" && handle.depth;
    return [{ index: 0, name: `${handle.kind}: ${handle.name}`, words: say(z), at: [handle[side], z], half: [2, 1], thing: handle.name,
      move: (d, dz) => ({ [`${handle.key}.${side}`]: round(handle[side] + d),
        ...(deep ? { [`${handle.key}.depth`]: round(Math.max(handle.depth + dz, 1)) } : {}) }) }];
  }

  function fishParts(handle, side) {
    const { message } = state;
    if (!message.zone || !message.zone.group || !handle[side]) return [];
    const fish = ofGroup(message), a = ends(fish.map((f) => f[side])), z = ends(fish.map((f) => f.depth));
    const move = (d, dz) => ({ [`${handle.key}.${side}`]: handle[side].map((v) => round(v + d)), ...raised(handle, dz) });
    return [{ index: 0, name: `Fish: ${message.zone.group.name}`, words: say(message.zone.group.height) + " over the ground",
      at: [mid(a), mid(z)], half: [(a[1] - a[0]) / 2, (z[1] - z[0]) / 2], move, thing: message.zone.group.name }];
  }

  /* The keys that a move of the fish down by metres sets. */
  function raised(handle, dz) {
    if (handle.above_bottom) return { [`${handle.key}.above_bottom`]: handle.above_bottom.map((v) => round(Math.max(v - dz, 0.05))) };
    if (handle.above) return { [`${handle.key}.above`]: handle.above.map((v) => round(Math.max(v - dz, 0.05))) };
    return handle.depth ? { [`${handle.key}.depth`]: handle.depth.map((v) => round(Math.max(v + dz, 0.5))) } : {};
  }

  function grip(svg, id, part, place) {
    const wide = part.half[0] / place.metres + 16, high = part.half[1] / place.metres + 16;
    const shape = Draw.node(svg, "rect", { class: "handle", tabindex: 0, role: "slider", "data-handle": id,
      "aria-label": part.name, "aria-valuetext": part.words, "aria-valuenow": part.at[1].toFixed(2),
      x: place.x(part.at[0]) - wide, y: place.y(part.at[1]) - high, width: 2 * wide, height: 2 * high });
    dragged(shape, place.metres, part.move, true, part.thing);
  }

  /* While a thing is dragged, all drawings of it move with it; only pictures and words wait for the server. */
  function follow(thing, dx, dz, key, value) {
    for (const [id, which] of [["side", 0], ["ahead", 1]]) {
      const metres = state.metres[which], x = which === state.view ? dx / metres : 0;
      $(id).querySelectorAll("[data-thing]").forEach((one) => {
        if (one.dataset.thing === thing) one.setAttribute("transform", `translate(${x} ${dz / metres})`);
      });
    }
    if (!key) return;
    const zone = state.message.zone, knob = [...document.querySelectorAll(".knob")].find((k) => k.dataset.key === key);
    if (state.lens) {
      const high = within(state.lens.fish - dz, 0, state.lens.top), move = state.lens.y(high) - state.lens.y(state.lens.fish);
      document.querySelectorAll("#side .follows").forEach((one) => one.setAttribute("transform", `translate(0 ${move})`));
    }
    if (knob) knob.update({ ...knob.shown(), value: mid(value) / zone.unit[0] });
  }

  /* Sends a change while the thing moves; only the newest waits for the answer. sideways: it may leave its column. */
  function dragged(shape, metres, move, sideways, thing) {
    let from = null;
    const by = (event) => [sideways ? event.clientX - from[0] : 0, event.clientY - from[1]];
    shape.onpointerdown = (event) => {
      shape.setPointerCapture(event.pointerId);
      from = [event.clientX, event.clientY];
      event.preventDefault();
      shape.focus();
      state.held = true;
      state.view = shape.ownerSVGElement.id === "ahead" ? 1 : 0;
    };
    shape.onpointermove = (event) => {
      if (!from) return;
      const [dx, dy] = by(event);
      shape.setAttribute("transform", `translate(${dx} ${dy})`);
      if (Math.hypot(dx, dy) <= 1) return;
      const set = move(dx * metres, dy * metres), key = Object.keys(set).find((k) => /\.(above_bottom|depth)$/.test(k) && Array.isArray(set[k]));
      follow(thing, dx * metres, dy * metres, /^fish/.test(key || "") ? key : null, set[key]);
      state.change(set);
    };
    const end = (event, keep) => {
      if (!from) return;
      const [dx, dy] = by(event);
      from = null;
      state.held = false;
      if (keep && Math.hypot(dx, dy) > 1) state.change(move(dx * metres, dy * metres));
      else draw();
    };
    shape.onpointerup = (event) => end(event, true);
    shape.onpointercancel = (event) => end(event, false);
    shape.onkeydown = (event) => {
      const times = event.shiftKey ? 10 : 1;
      const step = { ArrowLeft: [-FOOT, 0], ArrowRight: [FOOT, 0], ArrowUp: [0, -FOOT / 10], ArrowDown: [0, FOOT / 10] }[event.key];
      if (!step) return;
      event.preventDefault();
      event.stopPropagation();
      state.change(move(sideways ? step[0] * times : 0, step[1] * times));
    };
  }

  /* The lens is where a fish a foot up can be taken hold of: in the true section that is a pixel. */
  function lens(svg, place, colours) {
    const { message } = state, handle = message.handles.find((h) => h.kind === "fish");
    const zone = message.zone, heights = message.elements.map((e) => e.hidden);
    state.lens = null;
    if (!zone || !zone.near || !handle || heights.every((h) => h === null) || place.box.w < 220) return;
    const wide = Math.min(236, place.box.w * 0.6), high = Math.min(124, place.box.h * 0.5);
    const right = place.x(state.boat) > place.box.w / 2 ? 34 : place.box.w - wide - 4;
    const made = Draw.lens(svg, heights, colours, zone.group.height, zone.unit, { x: right, y: 24, w: wide, h: high,
      type: parseFloat(getComputedStyle(document.body).getPropertyValue("--least")) });
    state.lens = { ...made, fish: zone.group.height };
    const shape = Draw.node(svg, "rect", { class: "handle framed", tabindex: 0, role: "slider", "data-handle": "lens",
      "aria-label": `Height of ${zone.group.name}`, "aria-valuetext": say(zone.group.height) + " over the ground",
      "aria-valuenow": zone.group.height.toFixed(2), x: made.at[0] - 20, y: made.at[1] - 14, width: 40, height: 28 });
    dragged(shape, made.metres, (_, dz) => raised(handle, dz), false, zone.group.name);
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

  return { show, play };
})();
