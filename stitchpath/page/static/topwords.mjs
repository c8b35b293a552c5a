// The top in words: blocks, sashing, borders, fabrics, pieces, as a design says them.

import { Refused, upload } from "./api.mjs";
import { app, ask, learnDrawings, picture, render } from "./app.mjs";
import { putOnTable } from "./blocktable.mjs";
import { h, tell } from "./dom.mjs";
import { among, colourOf, deed, fabric, fabricNames, fold, glued, keyed, lead, long, number, pick, plainNumber, slipAt, typed, worded } from "./words.mjs";

const TURNS = [[0, "as drawn"], [90, "a quarter turn to the right"], [180, "upside down"], [270, "a quarter turn to the left"]];

export function topWords() {
  const { data, top } = app.state;
  return h("section", { key: "top", id: "the-top", "aria-labelledby": "h-top" },
    h("h2", { id: "h-top" }, "The top"),
    top ? keyed("size", `${top.size} when finished, ${top.patches.length} ${top.patches.length === 1 ? "patch" : "patches"}. A plain number means ${{ in: "inches", cm: "centimetres", mm: "millimetres" }[app.state.unit]}; “3 cm” or “1 1/2 in” is understood too.`) : null,
    data.top ? drawnTop(data.top) : null,
    data.layout ? layoutWords(data.layout) : null,
    data.layout ? sashingWords(data.layout) : null,
    data.layout ? borderWords(data.layout) : null,
    fabricWords(data),
    blockWords(data),
    pieceWords(data),
  );
}

// ---- how blocks are laid ----

function drawnTop(asked) {
  return keyed("drawn", "The top is drawn in ", h("strong", {}, asked.drawing), ", its longer side ", long(["top", "size"], asked.size, "size of the longer side", { hint: "as the file says" }),
    ". Its pieces are fused ", among(["top", "fused"], asked.fused ?? "after", [["before", "before"], ["after", "after"]], "its pieces fused"), " the quilting.");
}

function layoutWords(layout) {
  const { top } = app.state;
  const placed = layout.place?.length;
  const rows = rowsOf(top);
  const most = Math.max(0, ...rows.map((row) => row.length));
  const plainGrid = !placed && rows.length > 0;
  return h("div", { key: "layout" },
    plainGrid ? keyed("grid", count(most, "columns", "blocks across"), " blocks across and ", count(down(rows), "rows", "blocks down"), " down, set ", pick({ key: "layout/on_point", value: Boolean(layout.on_point),
      options: [[false, "straight"], [true, "on point"]], label: "blocks set", put: setOver }), layout.on_point ? [", with rows of one less between them, and setting triangles of ", fabric(["layout", "setting"], layout.setting, "setting triangles")] : null, ".") : null,
    placed ? keyed("placed", `${placed} blocks, each placed by its top left corner.`) : null,
    rows.length && top.blocks.length <= 60 ? h("ul", { class: "rows", "aria-label": "Places, row by row" }, rows.map((row) => h("li", { key: row[0].at }, row.map((block) =>
      lead(`${block.at} ${block.name ? `${block.name}, ` : ""}${block.block}${posture(block)}`, () => choose("place", top.blocks.indexOf(block)),
        { key: block.at, current: app.chosen?.kind === "place" && top.blocks[app.chosen.n] === block }))))) : null,
    rows.length && top.blocks.length > 60 ? keyed("many", `${top.blocks.length} places. Touch one on the quilt, or walk there with the arrow keys.`) : null,
  );
}

/** How many rows are told: on point the full ones, without those between them. */
const down = (rows) => (app.state.data.layout?.on_point ? (rows.length + 1) / 2 : rows.length);

/** Set straight blocks on point, or those on point straight: the library lays the rows anew. */
function setOver(onPoint) {
  const { data, top } = app.state;
  const rows = rowsOf(top);
  const columns = Math.max(...rows.map((row) => row.length));
  return [{ op: "grid", on_point: onPoint, columns: onPoint ? Math.max(columns, 2) : columns, rows: down(rows), block: plainBlock(data, top) }];
}

/** How a block is turned where it stands, degrees clockwise: on point all stand turned by 45. */
const turned = (block) => (block.turn + (app.state.data.layout?.on_point ? 315 : 0)) % 360;

const posture = (block) => `${turned(block) ? `, ${turned(block)}°` : ""}${block.mirror ? ", mirrored" : ""}`;

function count(now, what, label) {
  return typed({ key: `grid ${what}`, value: now, label, wide: 1, mode: "numeric", words: (text) => `${text} ${label}`, put: (text) => {
    const { top, data } = app.state;
    const rows = rowsOf(top);
    const size = { columns: Math.max(...rows.map((r) => r.length)), rows: down(rows), [what]: plainNumber(text) };
    return [{ op: "grid", ...size, block: plainBlock(data, top) }];
  } });
}

/** What goes into new places: the block that lies in the last one. */
const plainBlock = (data, top) => top.blocks.at(-1)?.block ?? Object.keys(data.blocks ?? {})[0];

/** The places row by row, by their letters. */
export function rowsOf(top) {
  const rows = new Map();
  for (const block of top?.blocks ?? []) {
    const letter = /^([A-Z]+)\d+$/.exec(block.at)?.[1];
    if (!letter) continue; // a block within a block
    if (!rows.has(letter)) rows.set(letter, []);
    rows.get(letter).push(block);
  }
  return [...rows.values()];
}

/** The sentences of one place: what stands there, how it is turned, and where else it goes. */
export function placeWords(n, first = false) {
  const { data, top } = app.state;
  const block = top.blocks[n];
  const where = whereTo(block);
  const at = where.list;
  const lay = (change) => [{ op: "lay", at, ...change }];
  const told = at.length === 1 ? block.at : `${at.length} places`;
  const names = Object.keys(data.blocks ?? {});
  return h("div", { key: "place", class: "about" },
    keyed("what", "At ", h("strong", {}, block.at), " stands ", pick({ key: "lay block", value: block.block, options: names, label: `block at ${block.at}`, put: (name) => lay({ block: name }), words: `${told}: another block` }),
      ", ", pick({ key: "lay turn", value: turned(block), options: TURNS, label: `how the block at ${block.at} is turned`, put: (turn) => lay({ turn }), words: `${told} turned` }),
      ", ", pick({ key: "lay mirror", value: block.mirror, options: [[false, "not mirrored"], [true, "mirrored left to right"]], label: `block at ${block.at} mirrored`, put: (mirror) => lay({ mirror }), words: `${told} mirrored` }), "."),
    keyed("where", "What you say here goes for ", pick({ key: "lay where", value: app.place, options: where.options, label: "which places these words go for", put: (place) => {
      app.place = place;
      render();
      return null;
    } }), ". You call it ", worded(["layout", "names", block.at], data.layout?.names?.[block.at], `your name of ${block.at}`, { hint: block.at }), "."),
    swapWords(block),
    corner(block, data),
    fold("Put another block here", first, h("div", { class: "thumbs", role: "group", "aria-label": "Blocks of this quilt" }, names.map((name) =>
      thumb(picture(name), name, () => ask(lay({ block: name }), `${name} at ${told}`, "lay block")))),
    h("p", {}, "Or one of the blocks that quilters know by name:"),
    h("div", { class: "thumbs", role: "group", "aria-label": "Blocks known by name" }, (app.start?.blocks ?? []).map((known) =>
      thumb(`/api/library/${encodeURIComponent(known.name)}.svg`, known.name, () => ask(lay({ library: known.name }), `${known.name} at ${told}`, "lay block"))))),
  );
}

/** What stands at two places changes places, turned and mirrored as it was. */
function swapWords(block) {
  const others = app.state.top.blocks.filter((other) => other.at !== block.at && /^[A-Z]+\d+$/.test(other.at));
  if (!/^[A-Z]+\d+$/.test(block.at) || !others.length || others.length > 120) return null;
  return keyed("swap", "It changes places with ", pick({ key: "swap", value: null, options: [[null, "none"], ...others.map(({ at }) => [at, at])], label: `the block at ${block.at} changes places with`, words: `${block.at} changes places`, put: (at) => {
    const now = app.state.top.blocks;
    const [one, other] = [block.at, at].map((name) => now.find((b) => b.at === name));
    if (!one || !other) return null;
    const lay = (place, what) => ({ op: "lay", at: [place.at], block: what.block, turn: turned(what), mirror: what.mirror });
    return [lay(one, other), lay(other, one)];
  } }), ".");
}

/** Of a block that is placed by itself: where its corner lies. */
function corner(block, data) {
  const k = Number(/^P(\d+)$/.exec(block.at)?.[1] ?? 0) - 1;
  const asked = data.layout?.place?.[k];
  if (!asked) return null;
  const at = (name) => ["layout", "place", k, name];
  return keyed("corner", "Its top left corner lies ", long(at("x"), asked.x, `across, of ${block.at}`), " across and ", long(at("y"), asked.y, `down, of ${block.at}`), " down. Placed blocks may leave no gap.");
}

function whereTo(block) {
  const { top } = app.state;
  const row = rowsOf(top).find((r) => r.includes(block)) ?? [block];
  const same = top.blocks.filter((b) => b.block === block.block);
  const column = /\d+$/.exec(block.at)?.[0];
  const lists = {
    "": [block], row, column: top.blocks.filter((b) => /\d+$/.exec(b.at)?.[0] === column), such: same, all: top.blocks,
  };
  const options = [["", "this place alone"], ["row", `the row of ${block.at}`], ["column", `the column of ${block.at}`], ["such", `every ${block.block}`], ["all", "every place"]];
  return { options, list: (lists[app.place] ?? lists[""]).map((b) => b.at) };
}

function thumb(src, name, act) {
  return h("button", { type: "button", class: "thumb", key: `thumb ${name}`, on: { click: act } }, h("img", { src, alt: "", loading: "lazy", width: "64", height: "64" }), h("span", {}, name));
}

/** The size that the blocks of this quilt have, as it is written. */
export function sizeHere(data, top) {
  const at = app.chosen?.kind === "place" ? top.blocks[app.chosen.n] : top?.blocks[0];
  const written = data.blocks?.[at?.block]?.size;
  if (written !== undefined) return written;
  const [x0, , x1] = at?.box ?? [0, 0, 254];
  return `${Math.round((x1 - x0) * 100) / 100} mm`;
}

export function choose(kind, n) {
  app.chosen = { kind, n };
  render();
  document.getElementById("note")?.scrollIntoView({ block: "nearest" });
}

// ---- sashing and borders ----

function sashingWords(layout) {
  const sashing = layout.sashing;
  if (layout.place?.length) return null;
  const [first] = fabricNames();
  if (!sashing) {
    return keyed("sashing", "No sashing between the blocks. ", deed("Put sashing between them", () => ask([{ op: "set", path: ["layout", "sashing"], value: { width: usual(1), fabric: darkest() ?? first } }], "sashing")));
  }
  const at = (name) => ["layout", "sashing", name];
  return keyed("sashing", "Sashing ", long(at("width"), sashing.width, "width of the sashing"), " wide of ", fabric(at("fabric"), sashing.fabric, "fabric of the sashing"),
    ", with ", fabric(at("cornerstone"), sashing.cornerstone, "cornerstones", { none: "no cornerstones" }), sashing.cornerstone ? " cornerstones" : "", ", ",
    among(at("around"), sashing.around ?? false, [[false, "between the blocks alone"], [true, "round the outside too"]], "sashing lies"), ". ",
    deed("Leave the sashing out", () => ask([{ op: "set", path: ["layout", "sashing"], value: null }], "no sashing")));
}

const usual = (inches) => (app.state.unit === "in" ? inches : app.state.unit === "cm" ? inches * 2.5 : inches * 25);

/** The darkest fabric; another than what it lies beside, if there is one. */
function darkest(...beside) {
  const fabrics = Object.entries(app.state.top?.fabrics ?? {}).sort((a, b) => b[1].dark - a[1].dark);
  return (fabrics.find(([name]) => !beside.includes(name)) ?? fabrics[0])?.[0];
}

export function borderWords(layout, only = null) {
  const borders = layout.borders ?? [];
  return h("div", { key: "borders" },
    only === null && borders.length > 1 ? keyed("order", "Borders, from the inside out:") : null,
    borders.map((border, k) => (only !== null && only !== k ? null : keyed(`border ${k}`, `Border ${k + 1}: `, long(["layout", "borders", k, "width"], border.width, `width of border ${k + 1}`), " of ",
      fabric(["layout", "borders", k, "fabric"], border.fabric, `fabric of border ${k + 1}`), ", corners ",
      among(["layout", "borders", k, "corners"], border.corners ?? "butted", [["butted", "butted, sides first"], ["mitred", "mitred"], ["squares", "of squares"]], `corners of border ${k + 1}`),
      border.corners === "squares" ? [" of ", fabric(["layout", "borders", k, "corner_fabric"], border.corner_fabric, `corner squares of border ${k + 1}`, { none: "the same fabric" })] : null, ". ",
      deed("Leave it out", () => ask([{ op: "drop", path: ["layout", "borders", k] }], `no border ${k + 1}`), { key: `drop border ${k}`, label: `Leave border ${k + 1} out` })))),
    only === null ? keyed("more", borders.length ? "" : "No border. ", deed(borders.length ? "Add another border outside" : "Add a border", () =>
      ask([{ op: "put", path: ["layout", "borders"], at: null, value: { width: usual(2), fabric: darkest(layout.sashing?.fabric, layout.borders?.at(-1)?.fabric) ?? fabricNames()[0] } }], "a border"), { key: "add border" })) : null,
  );
}

// ---- fabrics ----

function fabricWords(data) {
  const known = app.state.top?.fabrics ?? {};
  const written = data.fabrics ?? {};
  const { top } = app.state;
  const used = new Set([...(top?.patches ?? []), ...(top?.pieces ?? [])].map((part) => part.fabric));
  return fold(`Fabrics: ${Object.keys(written).length}`, true,
    h("ul", { class: "fabrics" }, Object.entries(written).map(([name, asked]) => {
      const colour = typeof asked === "string" ? asked : asked.colour;
      const dark = typeof asked === "string" ? null : asked.dark ?? null;
      const told = known[name]?.dark;
      const colourAt = (now) => ["fabrics", name, ...(typeof now.fabrics?.[name] === "object" ? ["colour"] : [])];
      const put = (to, now) => [{ op: "set", path: colourAt(now), value: to }];
      const putDark = (to, now) => {
        if (to !== null) return [{ op: "set", path: ["fabrics", name, "dark"], value: to }];
        const was = now.fabrics?.[name];
        return typeof was === "object" ? [{ op: "set", path: ["fabrics", name], value: was.colour }] : [];
      };
      return h("li", { key: `fabric ${name}` }, glued([
        h("input", { type: "color", key: `shade ${name}`, id: `shade-${name.replace(/[^a-z0-9]+/gi, "-")}`, "aria-label": `shade of ${name}`, value: hex(known[name]?.colour ?? colour), on: { change: (_, node) => ask((now) => put(node.value, now), `colour of ${name}`, `fabrics/${name}/colour`) } }), " ",
        typed({ key: `fabrics/${name}/name`, value: name, label: `name of the fabric ${name}`, wide: 4, words: (to) => `${name} is called ${to}`, put: (to) => [{ op: "rename fabric", fabric: name, to: to.trim() }] }),
        " is ", typed({ key: `fabrics/${name}/colour`, value: colour, label: `colour of ${name}`, wide: 7, words: (to) => `${name} ${to}`, put: (to, now) => put(to.trim(), now) }),
        ", as dark as ", typed({ key: `fabrics/${name}/dark`, value: dark ?? "", label: `how dark ${name} is, 0 white to 1 black`, wide: 4, mode: "decimal", hint: told === undefined ? "reckoned" : told.toFixed(2),
          words: (to) => `how dark ${name} is`, put: (to, now) => putDark(plainNumber(to), now) }), ". ",
        used.has(name) ? null : deed("Not used: leave it out", () => ask([{ op: "set", path: ["fabrics", name], value: null }], `no ${name}`, `fabrics/${name}/name`), { key: `drop ${name}`, label: `Leave the fabric ${name} out` })]));
    })),
    keyed("add", "Another fabric: ", typed({ key: "new fabric", value: "", once: true, label: "name of another fabric", wide: 8, hint: "its name", words: (to) => `fabric ${to}`,
      put: (to) => (to.trim() ? [{ op: "set", path: ["fabrics", to.trim()], value: newColour() }] : []) }), " (Enter)."),
  );
}

const hex = (colour) => (/^#[0-9a-f]{6}$/i.test(colour ?? "") ? colour.toLowerCase() : "#808080");

/** A colour for a new fabric: of some seaside colours, one that is not there yet. */
function newColour() {
  const used = new Set(fabricNames().map((name) => colourOf(name)?.toLowerCase()));
  return ["#2f6f9f", "#e7d5b0", "#9c432b", "#cfe3ee", "#3b4650", "#86b6b8", "#f7f2e6", "#c99a2e"].find((c) => !used.has(c)) ?? "#808080";
}

// ---- blocks ----

function blockWords(data) {
  const blocks = Object.entries(data.blocks ?? {});
  if (data.top && !blocks.length) return null;
  return fold(`Blocks: ${blocks.length}`, true,
    blocks.map(([name, block]) => h("div", { key: `block ${name}`, class: "block" },
      h("img", { src: picture(name), alt: `The block ${name}`, width: "64", height: "64" }),
      h("div", {}, oneBlock(name, block)))),
    keyed("own", "A block of your own begins ", pick({ key: "new block kind", value: own.kind, options: [["grid", "as a grid of cells"], ["patches", "as patches, corner by corner"], ...app.drawings.map((file) => [`file ${file}`, `as it is drawn in ${file}`])], label: "a block of your own begins", put: (to) => {
      own.kind = to;
      render();
      return null;
    } }), ". Call it ", typed({ key: "new block", value: "", once: true, label: "name of a block of your own", hint: "its name", wide: 8, words: (to) => `the block ${to}`, put: newBlock }), " (Enter)."),
    bringFile("a drawing of a block"),
  );
}

const own = { kind: "grid" };

/** Bring a drawing into her folder, from where it can be chosen. */
export function bringFile(what) {
  const key = `bring ${what}`;
  return keyed(key, h("label", { class: "say" }, `Bring ${what} (.svg, .dxf): `, h("input", { type: "file", key, accept: ".svg,.dxf", on: { change: async (_, node) => {
    const [file] = node.files;
    if (!file) return;
    try {
      const { file: name } = await upload(file, app.state.id);
      app.slip = null;
      await learnDrawings();
      tell(`${name} can be chosen now.`);
      if (what.includes("block")) own.kind = `file ${name}`;
      else if (what.includes("piece")) fresh.shape = `file ${name}`;
    } catch (refused) {
      if (!(refused instanceof Refused)) throw refused;
      app.slip = { key, sentence: refused.message, value: null };
      tell(refused.message, true);
    }
    node.value = "";
    render();
  } } })), slipAt(key));
}

function newBlock(text, data) {
  const name = text.trim();
  if (!name) return [];
  if (data.blocks?.[name]) {
    putOnTable(name);
    render();
    return [];
  }
  const [one, other] = fabricNames();
  const size = sizeHere(data, app.state.top);
  const whole = (value) => [{ op: "set", path: ["blocks", name], value: { ...value, size } }];
  if (own.kind.startsWith("file ")) return whole({ drawing: own.kind.slice(5) });
  app.wantBlock = name;
  if (own.kind === "patches") {
    return whole({ units: [8, 8], patches: [{ name: "left", fabric: one, points: [[0, 0], [8, 0], [0, 8]] }, { name: "right", fabric: other ?? one, points: [[8, 0], [8, 8], [0, 8]] }] });
  }
  return [{ op: "set", path: ["blocks", name], value: { size, grid: [0, 1, 2].map((r) => [0, 1, 2].map((c) => ((r + c) % 2 ? one : other ?? one)).join(" ")) } }];
}

export function oneBlock(name, block) {
  const at = (...path) => ["blocks", name, ...path];
  const roles = block.library ? (app.start?.blocks ?? []).find((known) => known.name === block.library)?.fabrics ?? Object.keys(block.fabrics ?? {}) : [];
  const size = Array.isArray(block.size) ? [long(at("size", 0), block.size[0], `width of ${name}`), " by ", long(at("size", 1), block.size[1], `height of ${name}`)]
    : block.rows ? null : long(at("size"), block.size, `size of ${name}`, { hint: "its usual size" });
  return [
    keyed("is", h("strong", {}, name), block.library ? ` is the block known as “${block.library}”, ` : block.grid ? ` is a grid of ${block.grid.length === 1 ? "one row" : `${block.grid.length} rows`}, ` : block.patches ? ` is drawn in ${block.patches.length} patches, ` : block.rows ? " is made of other blocks" : ` is drawn in ${block.drawing}, `, size, "."),
    roles.length ? keyed("roles", roles.map((role, k) => [k ? (k === roles.length - 1 ? " and " : ", ") : "In it, ", `${role} is `, fabric(at("fabrics", role), block.fabrics?.[role] ?? role, `${role} of ${name}`)]), ".") : null,
    block.rows ? keyed("rows", block.rows.map((row, k) => [k ? ", then " : "Its rows: ", worded(at("rows", k), row, `row ${k + 1} of ${name}`)]), ".") : null,
    block.grid || block.patches ? keyed("open", deed(block.grid ? "Change its cells" : "Change its patches", () => {
      putOnTable(name);
      render();
    }, { key: `open ${name}`, label: `${block.grid ? "Change the cells of" : "Change the patches of"} ${name}` })) : null,
  ];
}

// ---- pieces ----

const SHAPES = {
  disc: "M 10 0 A 10 10 0 0 1 10 20 A 10 10 0 0 1 10 0 Z",
  leaf: "M 0 10 C 6 0 20 0 26 10 C 20 20 6 20 0 10 Z",
  sail: "M 2 0 C 12 6 16 14 17 22 L 0 22 Z",
  pennant: "M 0 0 L 24 6 L 0 12 Z",
};

function pieceWords(data) {
  const pieces = data.applique ?? [];
  return fold(`Pieces laid on top: ${pieces.length}`, true,
    pieces.map((piece, k) => h("div", { key: `piece ${k}` }, onePiece(piece, k))),
    addPiece(data), bringFile("the outline of a piece"));
}

/** Where a piece may lie: on the top, on a place, on every block of a name. */
function hosts(data) {
  const { top } = app.state;
  return [["top", "the whole top"], ...(top?.blocks.length <= 120 ? top.blocks.map((b) => [b.at, b.at]) : []), ...Object.keys(data.blocks ?? {}).map((name) => [name, `every ${name}`])];
}

export function onePiece(piece, k) {
  const at = (...path) => ["applique", k, ...path];
  const { data, unit, top } = app.state;
  const n = top?.pieces.findIndex((p) => p.applique === k) ?? -1;
  const twins = (data.applique ?? []).filter((other) => other.name === piece.name).length > 1;
  const called = twins ? `${piece.name} on ${piece.on ?? "top"}` : piece.name;
  const [x, y] = piece.at ?? [null, null];
  const putAt = (which) => (_, value, then) => {
    const asked = then.applique?.[k]?.at;
    if (asked) return [{ op: "set", path: at("at", which), value: value ?? middleOf(k)[which] }];
    const now = middleOf(k);
    return [{ op: "set", path: at("at"), value: which ? [now[0], value] : [value, now[1]] }];
  };
  return [
    keyed("one", n >= 0 ? lead(piece.name, () => choose("piece", n), { key: `piece ${k}`, current: app.chosen?.kind === "piece" && top.pieces[app.chosen.n]?.applique === k }) : h("strong", {}, piece.name),
      piece.file ? ` of ${piece.file}` : "", " lies on ", among(at("on"), piece.on ?? "top", hosts(data), `${called} lies on`),
      ", its middle ", long(at("at", 0), x, `across, of ${called}`, { hint: "halfway", put: putAt(0) }), " across and ", long(at("at", 1), y, `down, of ${called}`, { hint: "halfway", put: putAt(1) }), " down. It is ",
      long(at("size"), piece.size, `size of ${called}`, { hint: "as its file says" }), " large, turned ", number(at("turn"), piece.turn ?? 0, `turn of ${called}, degrees to the right`), "° to the right, ",
      among(at("mirror"), piece.mirror ?? false, [[false, "not mirrored"], [true, "mirrored"]], `${called} mirrored`), ". Of ", fabric(at("fabric"), piece.fabric, `fabric of ${called}`),
      ", fused ", among(at("fused"), piece.fused ?? "after", [["before", "before the quilting"], ["after", "after the quilting"]], `${called} fused`), ". ",
      deed("Leave it out", () => ask([{ op: "drop", path: ["applique", k] }], `no ${piece.name}`), { key: `drop piece ${k}`, label: `Leave ${called} out` })),
  ];
}

/** Where the middle of a piece lies on its host while nothing is written: halfway. */
function middleOf(k) {
  const { top, unit } = app.state;
  const found = top.pieces.find((piece) => piece.applique === k);
  const host = top.blocks.find((b) => b.at === found?.host || b.at === found?.on);
  const [x0, y0, x1, y1] = host?.box ?? top.box;
  const per = { in: 25.4, cm: 10, mm: 1 }[unit];
  return [(x1 - x0) / 2 / per, (y1 - y0) / 2 / per];
}

const fresh = { shape: "disc", on: "", fabric: "" };

function addPiece(data) {
  const { top } = app.state;
  const files = app.drawings;
  const on = fresh.on || (app.chosen?.kind === "place" ? top.blocks[app.chosen.n].at : "top");
  const named = (name, label, value, options) => pick({ key: `fresh ${name}`, value, options, label, put: (to) => {
    fresh[name] = to;
    render();
    return null;
  } });
  return keyed("add piece", "Lay a ", named("shape", "shape of a new piece", fresh.shape, [...Object.keys(SHAPES), ...files.map((file) => [`file ${file}`, file])]), " on ",
    named("on", "a new piece lies on", on, hosts(data)), ", of ", named("fabric", "fabric of a new piece", fresh.fabric || fabricNames().at(-1), fabricNames()), ". ",
    deed("Lay it there", () => {
      const file = fresh.shape.startsWith("file ") ? fresh.shape.slice(5) : null;
      const value = { name: file ? file.replace(/\.\w+$/, "") : fresh.shape, ...(file ? { file } : { outline: SHAPES[fresh.shape] }), on, size: usual(4), fused: "after", fabric: fresh.fabric || fabricNames().at(-1) };
      ask([{ op: "put", path: ["applique"], at: null, value }], `a ${value.name}`, "add piece").then((done) => {
        if (!done) return;
        const n = app.state.top?.pieces.findLastIndex((p) => p.applique === (app.state.data.applique ?? []).length - 1);
        if (n >= 0) choose("piece", n);
      });
    }, { key: "lay piece" }));
}
