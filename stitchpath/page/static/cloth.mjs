// The quilt as it lies before her: drawn at true proportion, touched, walked over by keys, and its
// pieces taken in hand. What a touch means for the design is not decided here.

import { h, s, fill, tell, still } from "./dom.mjs";
import { away, boxOf, middle, Near, pointsOf } from "./paths.mjs";
import { rounded, told } from "./lengths.mjs";

const MANY = 1500; // patches: above it fabrics, seams and lines are painted, not laid out one by one
const TICKS = 3000; // low sides: above it only those of what is chosen
const FINGER = 6; // px: so near a seam is meant, not a patch
const MOST = 60; // times closer

const draw = (name, props) => s("path", { class: name, ...props });

export class Cloth {
  /** `on`: chosen(thing, such), moved(piece, change), held(piece, words) */
  constructor(on) {
    this.host = null;
    this.on = on;
    this.layers = Object.fromEntries(
      ["patches", "seams", "low", "pieces", "lines", "names", "such", "chosen", "loose", "hands", "spot"].map((name) => [name, s("g", { class: name })]),
    );
    this.svg = s("svg", { "aria-hidden": "true", focusable: "false", preserveAspectRatio: "xMidYMid meet" }, Object.values(this.layers));
    this.ground = document.createElement("canvas");
    this.ground.setAttribute("aria-hidden", "true");
    // For ears the quilt is a list of which one thing is chosen: so arrow keys come here, not to the reader.
    this.here = h("div", { role: "option", class: "unseen", "aria-selected": "true" });
    this.top = null;
    this.lines = null;
    this.chosen = null;
    this.shown = { lines: true, low: false, names: true, loose: true };
    this.view = { x: 0, y: 0, times: 1 };
    this.pointers = new Map();
    this.at = { level: 0, n: -1 };
    this.probe = document.createElement("canvas").getContext("2d");
  }

  /** Lie on a part of the page. */
  spread(host) {
    this.host = host;
    host.replaceChildren(this.ground, this.svg, this.here);
    this.hear();
    if (this.top) this.frame();
  }

  /** Say by name what is chosen. */
  named(words) {
    if (this.here.textContent !== words) this.here.textContent = words;
  }

  // ---- drawing ----

  /** Show a top: what is as it was stays as it is. */
  show(top) {
    const before = this.top;
    this.top = top;
    this.found = {};
    if (!top) {
      Object.values(this.layers).forEach((layer) => layer.replaceChildren());
      return;
    }
    if (!before || String(before.box) !== String(top.box)) {
      if (!before || this.view.times === 1) this.view = { x: 0, y: 0, times: 1 };
      this.frame();
    }
    this.showPatches(before);
    this.showSeams(before);
    this.showPieces(before);
    this.showNames();
    this.showLow();
    this.mark(this.chosen, []);
  }

  showPatches(before) {
    const { patches, fabrics } = this.top;
    const host = this.layers.patches;
    this.many = patches.length > MANY;
    this.ground.hidden = !this.many;
    if (this.many) {
      host.replaceChildren();
      this.drawn = null;
      this.paint();
      return;
    }
    if (!this.drawn) host.replaceChildren();
    this.drawn ??= [];
    patches.forEach((p, n) => {
      const old = before?.patches[n];
      const colour = fabrics[p.fabric]?.colour ?? "#ccc";
      let path = this.drawn[n];
      if (!path) {
        path = this.drawn[n] = draw("patch", {});
        host.append(path);
      }
      if (!old || old.d !== p.d || !path.hasAttribute("d")) path.setAttribute("d", p.d);
      if (path.getAttribute("fill") !== colour) path.setAttribute("fill", colour);
    });
    this.drawn.splice(patches.length).forEach((path) => path.remove());
  }

  showSeams() {
    const [x0, y0, x1, y1] = this.top.box;
    const d = this.many ? "" : this.top.seams.map((seam) => seam.d).join("");
    fill(this.layers.seams, draw("seam", { key: "all", d }), draw("edge", { key: "edge", d: `M${x0} ${y0}H${x1}V${y1}H${x0}Z` }));
  }

  showPieces() {
    fill(this.layers.pieces, this.top.pieces.map((piece) => draw(`piece ${piece.fused}`, {
      key: `${piece.n}`, d: piece.d, fill: this.top.fabrics[piece.fabric]?.colour ?? piece.colour ?? "#999",
    })));
  }

  showNames() {
    const host = this.layers.names;
    if (!this.shown.names) return host.replaceChildren();
    const few = this.top.blocks.length <= 120 ? this.top.blocks : [];
    return fill(host, few.map((block) => {
      const [x0, y0, x1, y1] = block.box;
      const side = Math.min(x1 - x0, y1 - y0);
      const size = Math.max(8, Math.min(side * 0.13, this.width() / 40));
      const leaning = block.turn % 90 !== 0; // on point: the name stands in its upper corner
      return s("text", { key: block.at, x: leaning ? (x0 + x1) / 2 : x0 + size * 0.35, y: leaning ? y0 + side * 0.2 : y0 + size * 1.05, "text-anchor": leaning ? "middle" : null, "font-size": size.toFixed(1) }, block.name ?? block.at);
    }));
  }

  /** Paint a large top: only what stands in the view, each fabric and each thread in one go. */
  paint() {
    if (!this.host || !this.top || !this.many) return;
    const box = this.host.getBoundingClientRect();
    const dots = Math.min(devicePixelRatio || 1, 2), unit = this.pixel(), seen = this.seen();
    const wide = Math.round(box.width * dots), high = Math.round(box.height * dots);
    if (this.ground.width !== wide || this.ground.height !== high) Object.assign(this.ground, { width: wide, height: high });
    const c = this.ground.getContext("2d");
    const scale = dots / unit;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.clearRect(0, 0, wide, high);
    c.setTransform(scale, 0, 0, scale, wide / 2 - (seen.x + seen.wide / 2) * scale, high / 2 - (seen.y + seen.high / 2) * scale);
    const reach = Math.max(box.width, box.height) * unit * 0.5;
    const [x, y] = [seen.x + seen.wide / 2, seen.y + seen.high / 2];
    const inView = (kind) => (this.view.times < 1.5 ? this.top[kind].keys() : this.near(kind).within(x, y, reach));
    const gather = (kind, of) => {
      const paths = new Map();
      for (const n of inView(kind)) {
        const thing = this.top[kind][n], name = of(thing);
        if (!paths.has(name)) paths.set(name, new Path2D());
        paths.get(name).addPath((thing.path ??= new Path2D(thing.d)));
      }
      return paths;
    };
    for (const [name, path] of gather("patches", (p) => p.fabric)) {
      c.fillStyle = this.top.fabrics[name]?.colour ?? "#ccc";
      c.fill(path, "evenodd");
    }
    c.strokeStyle = "#4a5560";
    c.lineWidth = 0.6 * unit;
    for (const path of gather("seams", () => "").values()) c.stroke(path);
    this.paintLines(c, unit);
  }

  paintLines(c, unit) {
    const looks = new Map((this.lines?.threads ?? []).map((look) => [look.name, look]));
    const of = new Map();
    const near = this.seen();
    for (const line of this.shown.lines && this.lines && !this.old ? this.lines.lines : []) {
      const [x0, y0, x1, y1] = (line.box4 ??= boxOf(line.d));
      if (this.view.times > 1.5 && (x1 < near.x - near.wide || x0 > near.x + 2 * near.wide || y1 < near.y - near.high || y0 > near.y + 2 * near.high)) continue;
      if (!of.has(line.thread)) of.set(line.thread, new Path2D());
      of.get(line.thread).addPath((line.path ??= new Path2D(line.d)));
    }
    for (const [thread, path] of of) {
      const look = looks.get(thread);
      const pen = this.pen() * unit, wide = (look?.width ?? 1) * pen;
      c.setLineDash([]);
      c.strokeStyle = look?.casing ?? "#ffffff";
      c.lineWidth = wide + 1.1 * pen;
      c.stroke(path);
      c.setLineDash((look?.dash ?? []).map((v) => v * pen));
      c.strokeStyle = look?.colour ?? "#404040";
      c.lineWidth = wide;
      c.stroke(path);
    }
    c.setLineDash([]);
  }

  /** A tick on the low side of each seam, as on the maps of the guide. */
  showLow() {
    const { seams } = this.top;
    const some = this.shown.low ? (seams.length <= TICKS ? seams : []) : this.chosen?.kind === "seam" ? [seams[this.chosen.n]] : [];
    const long = 8 * this.pixel();
    let d = "";
    for (const seam of some) {
      if (!seam || seam.low === null || seam.low === undefined) continue;
      for (const points of pointsOf(seam.d)) {
        const at = middle(points);
        if (!at) continue;
        const reach = Math.min(long, at.whole / 2);
        const [ax, ay] = at.along;
        for (const side of [1, -1]) {
          const x = at.x - ay * side, y = at.y + ax * side;
          if (this.inside(this.top.patches[seam.low], x, y)) {
            d += `M${at.x.toFixed(2)} ${at.y.toFixed(2)}l${(-ay * side * reach).toFixed(2)} ${(ax * side * reach).toFixed(2)}`;
            break;
          }
        }
      }
    }
    fill(this.layers.low, d ? [draw("casing", { key: "c", d }), draw("side", { key: "t", d })] : []);
  }

  /** Show the lines to quilt, each thread in its own colour and dash. */
  showLines(lines) {
    this.lines = lines;
    const looks = new Map((lines?.threads ?? []).map((look) => [look.name, look]));
    const of = new Map();
    if (this.many) this.paint();
    else for (const line of this.shown.lines && lines ? lines.lines : []) of.set(line.thread, `${of.get(line.thread) ?? ""}${line.d}`);
    fill(this.layers.lines, [...of].map(([thread, d]) => {
      const look = looks.get(thread) ?? { colour: "#404040", dash: [], width: 1 };
      const wide = look.width ?? 1;
      return [
        draw("casing", { key: `${thread} casing`, d, vars: { "--wide": wide + 1.1 }, stroke: look.casing ?? "#ffffff" }),
        draw("line", { key: thread, d, stroke: look.colour, vars: { "--wide": wide }, "stroke-dasharray": (look.dash ?? []).map((v) => v * 1.8).join(" ") || null }),
      ];
    }));
    this.showLoose();
  }

  /** Lines of the top as it was lie wrong on the new one: they go until theirs come. */
  outdated(old) {
    if (this.old === old) return;
    this.old = old;
    for (const name of ["lines", "loose"]) this.layers[name].classList.toggle("old", old);
    if (this.many) this.paint();
  }

  showLoose() {
    const loose = this.shown.loose ? this.lines?.loose ?? [] : [];
    const size = this.width() / 45;
    fill(this.layers.loose, loose.map((ring, n) => s("g", { key: `${n}` },
      s("circle", { class: "casing", cx: ring.x, cy: ring.y, r: ring.r }),
      s("circle", { class: "ring", cx: ring.x, cy: ring.y, r: ring.r }),
      s("text", { x: ring.x, y: ring.y + size * 0.36, "font-size": size.toFixed(1) }, String(n + 1)),
    )));
  }

  /** Choose what the quilt shows beside its fabrics. */
  dress(shown) {
    this.shown = { ...this.shown, ...shown };
    if (!this.top) return;
    this.showNames();
    this.showLow();
    this.showLines(this.lines);
  }

  /** Draw round what is chosen, and thinner round all such. */
  mark(chosen, such) {
    this.chosen = chosen;
    const thing = this.shape(chosen);
    fill(this.layers.such, such.length ? [draw("such casing", { key: "sc", d: such.join("") }), draw("such", { key: "s", d: such.join("") })] : []);
    fill(this.layers.chosen, thing ? [draw("casing", { key: "c", d: thing }), draw("round", { key: "r", d: thing })] : []);
    this.showHands();
    if (this.top && !this.shown.low) this.showLow();
  }

  shape(chosen) {
    if (!chosen || !this.top) return null;
    const box = ([x0, y0, x1, y1]) => `M${x0} ${y0}H${x1}V${y1}H${x0}Z`;
    if (chosen.kind === "patch") return this.top.patches[chosen.n]?.d;
    if (chosen.kind === "seam") return this.top.seams[chosen.n]?.d;
    if (chosen.kind === "piece") return this.top.pieces[chosen.n]?.d;
    if (chosen.kind === "place") return this.top.blocks[chosen.n]?.d ?? box(this.top.blocks[chosen.n].box);
    if (chosen.kind === "border") return this.top.patches.filter((p) => borderOf(p) === chosen.n + 1).map((p) => p.d).join("");
    return null;
  }

  /** What a piece is held by: a stalk to turn it, a corner to size it. */
  showHands() {
    const piece = this.chosen?.kind === "piece" ? this.top?.pieces[this.chosen.n] : null;
    if (!piece) return this.layers.hands.replaceChildren();
    const [x0, y0, x1, y1] = boxOf(piece.d);
    const unit = this.pixel();
    // The stalk stands above; where that is out of sight, it hangs beneath.
    const above = y0 - 36 * unit > this.seen().y;
    const x = (x0 + x1) / 2, up = above ? y0 - 26 * unit : y1 + 26 * unit;
    return fill(this.layers.hands,
      s("path", { key: "stalk", class: "stalk", d: `M${x} ${above ? y0 : y1}V${up}M${x0} ${y0}H${x1}V${y1}H${x0}Z` }),
      s("circle", { key: "turn", class: "hand turn", cx: x, cy: up, r: 9 * unit }),
      s("rect", { key: "size", class: "hand size", x: x1 - 8 * unit, y: y1 - 8 * unit, width: 16 * unit, height: 16 * unit }));
  }

  /** Point out a place: go there and ring it. */
  spot(x, y, words) {
    const wide = this.width();
    this.look({ x: x - wide / 8, y: y - wide / 8, wide: wide / 4 });
    const r = wide / 60;
    fill(this.layers.spot, s("circle", { class: "casing", cx: x, cy: y, r }), s("circle", { class: "ring", cx: x, cy: y, r }));
    tell(words);
  }

  // ---- near and far ----

  width() {
    const [x0, , x1] = this.top.box;
    return x1 - x0;
  }

  /** The whole quilt with a little room round it. */
  whole() {
    const [x0, y0, x1, y1] = this.top.box;
    const room = Math.max(x1 - x0, y1 - y0) * 0.03;
    return { x: x0 - room, y: y0 - room, wide: x1 - x0 + 2 * room, high: y1 - y0 + 2 * room };
  }

  /** mm that a pixel of the screen covers. */
  pixel() {
    const box = this.host.getBoundingClientRect();
    const whole = this.whole();
    return Math.max(whole.wide / Math.max(box.width, 1), whole.high / Math.max(box.height, 1)) / this.view.times;
  }

  /** How wide a line is drawn, px: as a thread of 2 mm would be, but never lost and never fat. */
  pen() {
    return Math.max(0.5, Math.min(1.9, 2.2 / this.pixel()));
  }

  /** What stands in the view: the middle moved by view.x, view.y, mm. */
  seen(view = this.view) {
    const whole = this.whole();
    const wide = whole.wide / view.times, high = whole.high / view.times;
    return { x: whole.x + whole.wide / 2 + view.x - wide / 2, y: whole.y + whole.high / 2 + view.y - high / 2, wide, high };
  }

  frame() {
    const { x, y, wide, high } = this.seen();
    this.svg.setAttribute("viewBox", `${x} ${y} ${wide} ${high}`);
    this.layers.lines.style.setProperty("--pen", `${this.pen()}px`);
    this.svg.style.transform = "";
    this.ground.style.transform = "";
    this.paint();
    this.settled = { ...this.view };
    this.showHands();
    this.on.zoomed?.(this.view.times);
  }

  /** While a hand moves, the picture that is drawn is only shifted and stretched; then drawn anew. */
  move(view) {
    const whole = this.whole();
    const times = Math.max(1, Math.min(MOST, view.times));
    const spare = { x: (whole.wide / 2) * (1 - 1 / times), y: (whole.high / 2) * (1 - 1 / times) };
    const within = (v, most) => Math.max(-most, Math.min(most, v));
    this.view = { x: within(view.x, spare.x), y: within(view.y, spare.y), times };
    const from = this.settled ?? this.view;
    const grown = times / from.times;
    const unit = this.pixel();
    this.ground.style.transform = this.svg.style.transform = `translate(${(from.x - this.view.x) / unit}px, ${(from.y - this.view.y) / unit}px) scale(${grown})`;
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.frame(), this.top.patches.length > 200 ? 140 : 30);
  }

  look({ x, y, wide }) {
    const whole = this.whole();
    const times = Math.max(1, Math.min(MOST, whole.wide / wide));
    this.move({ times, x: x + wide / 2 - whole.x - whole.wide / 2, y: y + wide / 2 - whole.y - whole.high / 2 });
  }

  closer(by, at = null) {
    const times = Math.max(1, Math.min(MOST, this.view.times * by));
    const seen = this.seen();
    const x = at ? at[0] - (seen.x + seen.wide / 2) : 0, y = at ? at[1] - (seen.y + seen.high / 2) : 0;
    const kept = 1 - this.view.times / times;
    this.move({ times, x: this.view.x + x * kept, y: this.view.y + y * kept });
  }

  farthest() {
    this.move({ x: 0, y: 0, times: 1 });
    this.layers.spot.replaceChildren();
  }

  /** From the screen to the quilt, mm. */
  point(event) {
    const box = this.host.getBoundingClientRect();
    const seen = this.seen(), unit = this.pixel();
    return [seen.x + seen.wide / 2 + (event.clientX - box.left - box.width / 2) * unit, seen.y + seen.high / 2 + (event.clientY - box.top - box.height / 2) * unit];
  }

  // ---- what lies where ----

  inside(patch, x, y) {
    const path = (patch.path ??= new Path2D(patch.d));
    return this.probe.isPointInPath(path, x, y, "evenodd");
  }

  near(kind) {
    this.found[kind] ??= new Near(this.top[kind].map((thing) => (thing.box4 ??= boxOf(thing.d))), this.top.box);
    return this.found[kind];
  }

  /** What a finding at a point is about: the piece there, else what lies there. */
  meant(point) {
    const found = this.under(point);
    return found?.kind === "loose" || this.top.patches.length > MANY ? null : found;
  }

  /** The piece, seam or patch under a point; the smallest first. */
  under([x, y]) {
    const reach = FINGER * this.pixel();
    const loose = (this.shown.loose ? this.lines?.loose ?? [] : []).findIndex((ring) => Math.hypot(ring.x - x, ring.y - y) < 2 * reach);
    if (loose >= 0) return { kind: "loose", n: loose };
    for (let n = this.top.pieces.length - 1; n >= 0; n -= 1) if (this.inside(this.top.pieces[n], x, y)) return { kind: "piece", n };
    let best = null, least = reach;
    for (const n of this.near("seams").within(x, y, reach)) {
      const seam = this.top.seams[n];
      const far = away((seam.points ??= pointsOf(seam.d)), x, y);
      if (far < least) [best, least] = [{ kind: "seam", n }, far];
    }
    const patch = this.near("patches").within(x, y).find((n) => this.inside(this.top.patches[n], x, y));
    if (best && patch !== undefined) {
      const [x0, y0, x1, y1] = this.top.patches[patch].box4;
      if (Math.min(x1 - x0, y1 - y0) < 5 * least) best = null; // a narrow patch is meant itself
    }
    if (best) return best;
    return patch === undefined ? null : { kind: "patch", n: patch };
  }

  // ---- hands ----

  hear() {
    const host = this.host;
    host.addEventListener("pointerdown", (event) => this.down(event));
    host.addEventListener("pointermove", (event) => this.drag(event));
    host.addEventListener("pointerup", (event) => this.up(event));
    host.addEventListener("pointercancel", (event) => this.up(event, true));
    host.addEventListener("wheel", (event) => {
      if (!this.top || (!event.ctrlKey && this.view.times === 1 && event.deltaY > 0)) return;
      event.preventDefault();
      this.closer(1.0018 ** -event.deltaY, this.point(event));
    }, { passive: false });
    host.addEventListener("keydown", (event) => this.key(event));
    host.addEventListener("focus", () => this.say());
    new ResizeObserver(() => this.top && this.frame()).observe(host);
  }

  hand(event) {
    const name = event.target.classList ?? [];
    if (!name.contains?.("hand")) return null;
    return name.contains("turn") ? "turn" : "size";
  }

  down(event) {
    if (!this.top || event.button !== 0) return;
    const at = this.point(event);
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.pointers.size === 2) this.pull = { view: { ...this.view }, apart: this.apart(), kind: "pinch" };
    else {
      const hand = this.hand(event);
      const thing = hand ? this.chosen : this.under(at);
      const kind = hand ?? (thing?.kind === "piece" ? "move" : "pan");
      this.pull = { kind, thing, at, client: [event.clientX, event.clientY], view: { ...this.view }, going: false };
    }
    try {
      this.host.setPointerCapture(event.pointerId);
    } catch { /* a pointer that is gone already */ }
  }

  apart() {
    const [a, b] = [...this.pointers.values()];
    return Math.hypot(a[0] - b[0], a[1] - b[1]);
  }

  drag(event) {
    const pull = this.pull;
    if (!pull || !this.pointers.has(event.pointerId)) return;
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (pull.kind === "pinch") {
      if (this.pointers.size === 2) this.move({ ...pull.view, times: (pull.view.times * this.apart()) / pull.apart });
      return;
    }
    const dx = event.clientX - pull.client[0], dy = event.clientY - pull.client[1];
    if (!pull.going && Math.hypot(dx, dy) < 4) return;
    if (!pull.going) {
      pull.going = true;
      this.layers.spot.replaceChildren();
      if (pull.kind !== "pan") this.on.chosen(pull.thing, true);
    }
    if (pull.kind === "pan") {
      const unit = this.pixel();
      this.move({ ...pull.view, x: pull.view.x - dx * unit, y: pull.view.y - dy * unit });
      return;
    }
    this.change(pull, this.point(event), event.altKey);
  }

  /** What a pull at a piece comes to, rounded as she measures; Alt leaves it as it is. */
  change(pull, [x, y], free) {
    const piece = this.top.pieces[pull.thing.n];
    const unit = this.top.unit;
    const [cx, cy] = piece.at;
    const even = (mm) => (free ? Math.round(mm * 100) / 100 : rounded(mm, unit));
    if (pull.kind === "move") {
      // From where it is written to lie, the distance is rounded: so a typed number says the same.
      pull.change = { at: [cx + even(x - pull.at[0]), cy + even(y - pull.at[1])] };
      pull.words = `${told(pull.change.at[0], unit)} across, ${told(pull.change.at[1], unit)} down`;
      pull.by = `translate(${pull.change.at[0] - cx} ${pull.change.at[1] - cy})`;
    } else if (pull.kind === "turn") {
      const from = Math.atan2(pull.at[1] - cy, pull.at[0] - cx), to = Math.atan2(y - cy, x - cx);
      const by = ((to - from) * 180) / Math.PI;
      // In a mirrored block a turn to the right is written as one to the left.
      const way = piece.turns ?? 1, now = piece.turn + way * by;
      const turn = free ? Math.round(now * 10) / 10 : Math.round(now);
      pull.change = { turn: ((((turn + 180) % 360) + 360) % 360) - 180 };
      pull.words = `turned ${pull.change.turn}°`;
      pull.by = `rotate(${way * (turn - piece.turn)} ${cx} ${cy})`;
    } else {
      const from = Math.max(Math.hypot(pull.at[0] - cx, pull.at[1] - cy), 1);
      const size = Math.max(even(this.sizeOf(piece) * (Math.hypot(x - cx, y - cy) / from)), 2);
      const by = size / this.sizeOf(piece);
      pull.change = { size };
      pull.words = `${told(size, unit)} large`;
      pull.by = `translate(${cx} ${cy}) scale(${by}) translate(${-cx} ${-cy})`;
    }
    this.hold(pull);
  }

  sizeOf(piece) {
    if (piece.mm) return piece.mm;
    const [x0, y0, x1, y1] = boxOf(piece.d);
    return Math.max(x1 - x0, y1 - y0);
  }

  hold(pull) {
    const shape = this.layers.pieces.children[pull.thing.n];
    shape.setAttribute("transform", pull.by);
    this.layers.chosen.setAttribute("transform", pull.by);
    this.layers.hands.setAttribute("transform", pull.by);
    this.on.held(pull.words);
  }

  letGo(n) {
    for (const part of [this.layers.pieces.children[n], this.layers.chosen, this.layers.hands]) part?.removeAttribute("transform");
    this.on.held(null);
  }

  up(event, cancelled = false) {
    const pull = this.pull;
    this.pointers.delete(event.pointerId);
    if (!pull) return;
    if (pull.kind === "pinch") {
      if (!this.pointers.size) this.pull = null;
      return;
    }
    this.pull = null;
    if (!pull.going) {
      if (!cancelled) this.on.chosen(pull.thing, false);
      return;
    }
    if (pull.kind === "pan") return;
    if (cancelled || !pull.change) this.letGo(pull.thing.n);
    else this.on.moved(pull.thing.n, pull.change).finally(() => this.letGo(pull.thing.n));
  }

  // ---- keys ----

  /** Things in reading order: places, strips, borders, pieces; within one, its patches and seams. */
  things() {
    if (this.at.level === 0 || !this.at.of) {
      return (this.found.whole ??= [
        ...this.top.blocks.map((_, n) => ({ kind: "place", n })),
        ...this.top.patches.flatMap((p, n) => (!p.at && borderOf(p) === null ? [{ kind: "patch", n }] : [])),
        ...this.top.borders.map((_, n) => ({ kind: "border", n })),
        ...this.top.pieces.map((_, n) => ({ kind: "piece", n })),
      ]);
    }
    const of = this.at.of;
    const own = (p, n) =>
      of.kind === "place" ? p.at === this.top.blocks[of.n].at : of.kind === "border" ? borderOf(p) === of.n + 1 : n === of.n;
    const names = new Set(this.top.patches.filter(own).map((p) => p.name));
    return [
      ...this.top.patches.flatMap((p, n) => (own(p, n) ? [{ kind: "patch", n }] : [])),
      ...this.top.seams.flatMap((seam, n) => (seam.between.some((name) => names.has(name)) ? [{ kind: "seam", n }] : [])),
    ];
  }

  key(event) {
    if (!this.top || event.metaKey || event.ctrlKey) return;
    const name = event.key;
    const known = () => {
      event.preventDefault();
      event.stopPropagation();
    };
    if (this.held) {
      if (this.keyHeld(event)) known();
      return;
    }
    const steps = { ArrowRight: 1, ArrowLeft: -1 };
    if (name in steps || name === "Home" || name === "End") {
      known();
      const things = this.things();
      const last = things.length - 1;
      const n = name === "Home" ? 0 : name === "End" ? last : this.at.n + steps[name];
      this.at.n = Math.max(0, Math.min(last, n));
      this.walk();
    } else if (name === "ArrowDown") {
      known();
      const thing = this.things()[this.at.n];
      if (this.at.level === 0 && thing && thing.kind !== "piece") {
        this.at = { level: 1, n: 0, of: thing, from: this.at.n };
        this.walk();
      }
    } else if (name === "ArrowUp") {
      known();
      if (this.at.level === 1) this.at = { level: 0, n: this.at.from };
      this.walk();
    } else if (name === "Enter" || name === " ") {
      known();
      if (this.chosen?.kind === "piece") this.takeInHand();
      else if (this.chosen) this.on.entered();
    } else if (name === "+" || name === "=") {
      known();
      this.closer(1.5);
    } else if (name === "-") {
      known();
      this.closer(1 / 1.5);
    } else if (name === "0") {
      known();
      this.farthest();
    } else if (name === "Escape") {
      known();
      this.on.chosen(null, false);
    }
  }

  walk() {
    const thing = this.things()[this.at.n];
    if (thing) this.on.chosen(thing, false, true);
  }

  say() {
    if (this.top && this.at.n < 0) tell("Arrow right goes from place to place, arrow down into one, Enter to its words.");
  }

  takeInHand() {
    const n = this.chosen.n;
    const piece = this.top.pieces[n];
    this.held = { kind: "move", thing: { kind: "piece", n }, dx: 0, dy: 0, turn: 0, times: 0 };
    this.host.classList.add("holding");
    tell(`${piece.name} is in your hand. Arrow keys move it, comma and full stop turn it, minus and plus size it, Enter lays it down, Escape puts it back.`);
    this.on.held(`${piece.name} is in your hand: arrows move it, , and . turn it, − and + size it, Enter lays it down, Escape puts it back.`);
  }

  keyHeld(event) {
    const held = this.held;
    const { unit } = this.top;
    const piece = this.top.pieces[held.thing.n];
    const step = (event.shiftKey ? 1 : 4) * (unit === "in" ? 25.4 / 16 : 1);
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key in moves) {
      held.dx += moves[event.key][0];
      held.dy += moves[event.key][1];
    } else if (event.key === "," || event.key === ".") held.turn += event.key === "," ? -1 : 1;
    else if (event.key === "-" || event.key === "+" || event.key === "=") held.times += (event.key === "-" ? -1 : 1) * (unit === "in" ? 25.4 / 8 : 2);
    else if (event.key === "Enter" || event.key === " ") {
      this.layDown();
      return true;
    } else if (event.key === "Escape") {
      this.held = null;
      this.host.classList.remove("holding");
      this.letGo(held.thing.n);
      tell("Put back.");
      return true;
    } else return event.key !== "Tab" ? false : (this.layDown(), false);
    const [cx, cy] = piece.at;
    const size = Math.max(this.sizeOf(piece) + held.times, 2);
    held.change = {};
    if (held.dx || held.dy) held.change.at = [cx + held.dx, cy + held.dy];
    const turn = piece.turn + (piece.turns ?? 1) * held.turn;
    if (held.turn) held.change.turn = turn;
    if (held.times) held.change.size = size;
    held.by = `translate(${held.dx} ${held.dy}) rotate(${held.turn} ${cx} ${cy}) translate(${cx} ${cy}) scale(${size / this.sizeOf(piece)}) translate(${-cx} ${-cy})`;
    held.words = `${told(cx + held.dx, unit)} across, ${told(cy + held.dy, unit)} down, turned ${turn}°, ${told(size, unit)} large`;
    this.hold(held);
    tell(held.words);
    return true;
  }

  layDown() {
    const held = this.held;
    this.held = null;
    this.host.classList.remove("holding");
    if (!held.change || !Object.keys(held.change).length) this.letGo(held.thing.n);
    else this.on.moved(held.thing.n, held.change).finally(() => this.letGo(held.thing.n));
  }
}

/** Which border a patch is of, or null. */
export function borderOf(patch) {
  if (patch.border !== undefined) return patch.border;
  const found = /^border (\d+)\b/.exec(patch.name);
  return found ? Number(found[1]) : null;
}

export const smooth = () => (still() ? "auto" : "smooth");
