// What lies under her finger, in words: the thing itself, then what it belongs to.

import { app, ask, render } from "./app.mjs";
import { putOnTable } from "./blocktable.mjs";
import { h } from "./dom.mjs";
import { borderOf } from "./cloth.mjs";
import { among, colourOf, deed, fabric, fabricNames, fold, keyed, lead, long, number, pick, plainNumber, threadNames, typed, worded } from "./words.mjs";
import { borderWords, choose, oneBlock, onePiece, placeWords } from "./topwords.mjs";
import { taken, written } from "./lengths.mjs";
import { GONE } from "./follow.mjs";

export function noteWords() {
  const { chosen } = app;
  const { top } = app.state;
  if (!top) return null;
  const inside = chosen ? { patch: patchNote, seam: seamNote, place: placeNote, border: borderNote, piece: pieceNote, loose: looseNote }[chosen.kind](chosen.n, top) : null;
  return h("section", { key: "note", id: "note", class: chosen ? "note" : "note none", "aria-label": "What you touched", tabindex: "-1" },
    inside ?? h("p", {}, "Touch a patch, a seam or a piece on the quilt: its own words come here. With keys: go to the quilt, arrow right to the next place, arrow down into it."));
}

const close = () => deed("Done with it", () => {
  app.chosen = null;
  render();
}, { key: "close note" });

const title = (words, more) => h("h2", { key: "title", id: "note-title" }, words, more ? h("small", {}, more) : null);

/** Whether her words go for this one, or for all such. */
function forWhich(such, one) {
  return pick({ key: "such", value: app.such, options: [[false, one], [true, such]], label: "these words go for", put: (to) => {
    app.such = to;
    render();
    return null;
  } });
}

// ---- a patch ----

function patchNote(n, top) {
  const patch = top.patches[n];
  const place = top.blocks.findIndex((b) => b.at === patch.at);
  const border = borderOf(patch);
  const same = top.patches.filter((p) => p.such === patch.such).length;
  const met = top.seams.filter((seam) => seam.between.includes(patch.name));
  const alone = place >= 0 && !top.patches.some((p, k) => k !== n && p.at === patch.at);
  const own = [
    keyed("cloth", "It is of ", ownFabric(patch), "."),
    roundWords([patch.name], "it", same > 1 ? [`all ${same} such`, "this patch alone"] : null),
    fillWords(patch, same),
    border !== null ? borderWords(app.state.data.layout ?? {}, border - 1) : null,
    met.length && met.length <= 24 ? keyed("meets", "Its seams: ", met.map((seam, k) => [k ? ", " : "", lead(`with ${seam.between.find((name) => name !== patch.name) ?? patch.name}`, () => choose("seam", top.seams.indexOf(seam)), { key: `meets ${k}` })]), ".") : null,
  ];
  const where = place >= 0 ? h("div", { key: "its place", class: alone ? null : "belongs" }, placeWords(place, alone)) : null;
  return [
    alone ? title(top.blocks[place].name ?? patch.at, `${top.blocks[place].name ? ` ${patch.at},` : ""} in one patch`) : title(patch.name, patch.words ? ` ${patch.words}` : null),
    alone ? [where, h("div", { key: "own", class: "belongs" }, own)] : [own, where],
    /^(sashing|cornerstone)/.test(patch.name) ? keyed("strip", "What sashing and cornerstones are made of stands under The top.") : null,
    close(),
  ];
}

const sentence = (words) => (/[.!?]$/.test(words) ? words : `${words}.`);

/** The fabric of a patch can be changed where the block says it: by its role, its cell or itself. */
function ownFabric(patch) {
  const { data } = app.state;
  const block = data.blocks?.[patch.block];
  if (!block) return swatched(patch.fabric);
  const own = patch.such.slice(patch.block.length + 1);
  const every = ` in every ${patch.block}`;
  if (block.patches) {
    const k = block.patches.findIndex((p) => p.name === own);
    if (k >= 0) return [fabric(["blocks", patch.block, "patches", k, "fabric"], block.patches[k].fabric, `fabric of ${patch.such}`), every];
  }
  if (block.library) {
    const role = Object.entries(block.fabrics ?? {}).find(([, of]) => of === patch.fabric)?.[0] ?? patch.fabric;
    return [fabric(["blocks", patch.block, "fabrics", role], patch.fabric, `fabric of ${patch.such}`), every, `, as its ${role}`];
  }
  if (block.grid) {
    return [swatched(patch.fabric), ". ", deed(`Change the cells of ${patch.block}`, () => {
      const cell = /^r(\d+)c(\d+)/.exec(own);
      putOnTable(patch.block, cell ? { row: Number(cell[1]) - 1, column: Number(cell[2]) - 1 } : null);
      render();
    }, { key: "to cells" })];
  }
  return swatched(patch.fabric);
}

const swatched = (name) => [h("span", { class: "swatch", vars: { "--cloth": colourOf(name) ?? "#ccc" } }), h("strong", {}, name)];

/** The fill of a patch, a block or a border, said by region. */
function fillWords(patch, same) {
  const border = borderOf(patch);
  const regions = [[patch.name, "this patch"]];
  if (same > 1 && patch.such !== patch.name) regions.push([patch.such, `all ${same} such`]);
  if (patch.at) regions.push([patch.at, `the whole block at ${patch.at}`]);
  if (patch.block) regions.push([patch.block, `every ${patch.block}`]);
  if (border !== null) regions.push([`border ${border}`, `the whole of border ${border}`]);
  regions.push(["top", "the whole top"]);
  return fillOf(regions);
}

const fresh = { region: null, spacing: "" };

export function fillOf(regions) {
  const { data, unit } = app.state;
  const region = regions.some(([name]) => name === fresh.region) ? fresh.region : regions[0][0];
  const k = (data.fills ?? []).findIndex((asked) => asked.region === region);
  const asked = data.fills?.[k];
  const styles = (app.start?.styles ?? []).filter((style) => style !== "motif rows" || asked?.style === style);
  const put = (style, now) => [{ op: "fill", region, style, ...((now.fills ?? []).some((fill) => fill.region === region) ? {} : { spacing: unit === "in" ? 0.5 : unit === "cm" ? 1.5 : 15 }) }];
  return keyed("fill", "Fill ", pick({ key: "fill region", value: region, options: regions, label: "what is filled", put: (to) => {
    fresh.region = to;
    render();
    return null;
  } }), " ", pick({ key: "fill style", value: asked?.style ?? null, options: [[null, "with nothing"], ...styles.map((style) => [style, `with ${style}`])], label: `fill of ${region}`, put, words: `fill of ${region}` }),
    asked ? [", ", typed({ key: `fill ${region} spacing`, value: written(asked.spacing, unit), wide: 5, label: `spacing of the fill of ${region}`, words: (to) => `fill of ${region} ${to} apart`, put: (to) => [{ op: "set", path: ["fills", k, "spacing"], value: taken(to, unit) }] }), " apart, thread ", among(["fills", k, "thread"], asked.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread of the fill of ${region}`)] : null,
    asked && ["parallel", "crosshatch", "waves", "loops", "motif rows"].includes(asked.style) ? [", at ", number(["fills", k, "angle"], asked.angle ?? 0, `angle of the fill of ${region}, degrees to the right`), "°"] : null, ".");
}

/** Whether a seam, or all such, was said to be stitched (true), or left out (false). */
function standing(seam, such) {
  const lines = app.state.data.lines ?? {};
  const pair = such ? seam.such : seam.between;
  const has = (list) => (list ?? []).some((x) => String(x) === String(pair) || String([...x].reverse()) === String(pair));
  return has(lines.include) ? true : has(lines.exclude) ? false : null;
}

const MOST_ROUND = 60; // seams

/** The ditch round a patch, a block or a border: all its seams in one word. */
function roundWords(names, what, which = null) {
  const inside = new Set(names);
  const such = Boolean(which) && app.such;
  const all = app.state.top.seams.filter(({ between: [a, b] }) => inside.has(a) !== inside.has(b));
  const round = [...new Map(all.map((seam) => [String(such ? seam.such : seam.between), seam])).values()];
  if (!round.length || round.length > MOST_ROUND) return null;
  const said = new Set(round.map((seam) => standing(seam, such)));
  const options = [[null, "as all the rest"], [true, "stitch them"], [false, "leave them out"]];
  return keyed("round", `The seams round ${what}: `, pick({ key: "round", value: said.size > 1 ? "" : [...said][0], options: said.size > 1 ? [["", "some so, some so"], ...options] : options, label: `the seams round ${what}`, words: `the seams round ${names[0]}`,
    put: (want) => (want === "" ? null : round.map(({ between }) => ({ op: "stitch", between, such, want }))) }), which ? [", for ", forWhich(...which)] : null, ".");
}

// ---- a seam ----

function seamNote(n, top) {
  const seam = top.seams[n];
  const [one, other] = seam.between;
  const same = top.seams.filter((x) => String(x.such) === String(seam.such)).length;
  const fabrics = [...new Set([seam.high, seam.low].filter((k) => k !== null && k !== undefined).map((k) => top.patches[k].fabric))];
  const between = seam.between;
  const such = app.such && same > 1;
  const pair = such ? seam.such : seam.between;
  const stands = standing(seam, such);
  const pressed = (app.state.data.press?.seams ?? []).find((x) => String(x.between) === String(pair) || String([...x.between].reverse()) === String(pair))?.press ?? null;
  const stitched = app.lines?.lines?.some((line) => line.seam === n);
  return [
    title(`The seam of ${one} and ${other}`), seam.words ? keyed("words", sentence(seam.words)) : null,
    app.lines ? keyed("now", stitched ? "It is stitched in the ditch." : "It is not stitched.") : null,
    same > 1 ? keyed("which", "What you say here goes for ", forWhich(`all ${same} such seams`, "this seam alone"), ".") : null,
    keyed("stitch", "In the ditch: ", pick({ key: "stitch", value: stands, options: [[null, "as all the rest"], [true, "stitch it"], [false, "leave it out"]], label: "stitched in the ditch",
      put: (want) => [{ op: "stitch", between, such, want }], words: `${one} / ${other} in the ditch` }), "."),
    seam.high !== null && seam.high !== undefined ? keyed("press", "Pressed ", pick({ key: "press", value: typeof pressed === "string" ? pressed : pressed ? `toward ${pressed.toward}` : null,
      options: [[null, "as all the rest"], ["darker", "to the darker side"], ...fabrics.map((name) => [`toward ${name}`, `toward ${name}`]), ["open", "open"]], label: "pressed",
      put: (rule) => [{ op: "press", between, such, rule }], words: `${one} / ${other} pressed` }), ". ",
    `${top.patches[seam.high].name} lies high, ${top.patches[seam.low].name} low: the needle runs on the low side.`) : null,
    keyed("sides", "On either side: ", between.map((name, k) => [k ? " and " : "", lead(name, () => choose("patch", top.patches.findIndex((p) => p.name === name)), { key: `side ${k}` })]), "."),
    close(),
  ];
}

// ---- a place, a border, a piece, loose ground ----

function placeNote(n, top) {
  const block = top.blocks[n];
  return [title(block.name ?? block.at, block.name ? ` ${block.at}` : null), placeWords(n), roundWords(top.patches.filter((p) => p.at === block.at).map((p) => p.name), "the block", [`every ${block.block}`, "this block alone"]), fillOf([[block.at, "this block"], [block.block, `every ${block.block}`], ["top", "the whole top"]]),
    fold(`The block: ${block.block}`, true, oneBlock(block.block, app.state.data.blocks[block.block])), close()];
}

function borderNote(n) {
  return [title(`Border ${n + 1}`), borderWords(app.state.data.layout ?? {}, n), roundWords(app.state.top.patches.filter((p) => borderOf(p) === n + 1).map((p) => p.name), "it"), fillOf([[`border ${n + 1}`, "this border"], ["top", "the whole top"]]), close()];
}

function pieceNote(n, top) {
  const piece = top.pieces[n];
  const k = piece.applique;
  const asked = app.state.data.applique?.[k];
  if (!asked) return [title(piece.name), keyed("words", sentence(piece.words)), close()];
  const at = (...path) => ["applique", k, ...path];
  return [
    title(piece.name, app.state.top.pieces.filter((p) => p.applique === k).length > 1 ? " each of them" : null),
    h("div", { key: "one" }, onePiece(asked, k)),
    keyed("hand", "Drag it on the quilt, or ", deed("take it in hand", () => {
      document.getElementById("quilt").focus();
      document.getElementById("quilt").dispatchEvent(new KeyboardEvent("keydown", { key: "Enter" }));
    }, { key: "take" }), " and move it with the arrow keys."),
    centreWords(piece, asked, at),
    keyed("edge", "A line inside its edge: ", long(at("edge_line"), asked.edge_line === true ? "1/16 in" : asked.edge_line || "", `edge line of ${piece.name}`, { hint: "none" }),
      ". Echoes round it: ", pick({ key: "echo", value: asked.echo ? asked.echo.count ?? 3 : 0, options: [[0, "none"], [1, "one"], [2, "two"], [3, "three"], [4, "four"], [5, "five"]], label: `echoes round ${piece.name}`,
        put: (count, now) => [{ op: "set", path: at("echo"), value: count ? { step: now.applique?.[k]?.echo?.step ?? (app.state.unit === "in" ? "1/4 in" : "6 mm"), count } : null }] }),
      asked.echo ? [", ", long(at("echo", "step"), asked.echo.step, `step of the echoes round ${piece.name}`), " apart"] : null, "."),
    keyed("thread", "Its thread: ", among(at("thread"), asked.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread of ${piece.name}`), "."),
    close(),
  ];
}

const WAYS = [["once", "once"], ["both", "out and back, in two lines"], ["best", "once, or out and back where that takes less"], ["none", "not at all"]];

/** The lines through the middle of a piece: which arms, and whether once or out and back. */
function centreWords(piece, asked, at) {
  const now = asked.centre === false ? "none" : asked.out_and_back ? "both" : asked.lines === "best" ? "best" : "once";
  const put = (way) => [
    { op: "set", path: at("centre"), value: way === "none" ? false : null },
    { op: "set", path: at("out_and_back"), value: way === "both" ? true : null },
    { op: "set", path: at("lines"), value: way === "best" ? "best" : null }];
  return keyed("centre", "Through the middle of its arms it is stitched ", pick({ key: "centre", value: now, options: WAYS, label: `through the middle of ${piece.name}`, put }),
    now === "both" ? [", ", long(at("out_and_back"), asked.out_and_back === true ? "1/16 in" : asked.out_and_back, `how far apart the two lines through ${piece.name} lie`), " apart"] : null,
    now === "none" ? null : [": ", among(at("vein"), asked.vein ?? false, [[false, "its arms"], [true, "its longest way alone, as a vein"]], `what of ${piece.name} is stitched through`),
      asked.vein ? null : [", ", worded(at("arms"), Array.isArray(asked.arms) ? asked.arms.join(", ") : asked.arms, `arms of ${piece.name}`, { hint: "all of them", put: (text) => [{ op: "set", path: at("arms"), value: armsIn(text) }] }), h("span", { class: "small" }, " (all, the longest so many, or hours of a clock face such as 12, 4, 8)")]], ".");
}

/** "12, 4, 8" are hours of a clock face; a number by itself is so many arms. */
function armsIn(text) {
  const said = text.trim();
  if (said === "") return null;
  if (said.includes(",")) return said.split(",").map((hour) => plainNumber(hour)).filter((hour) => hour !== null);
  return plainNumber(said);
}

function looseNote(n) {
  const ring = app.lines?.loose[n];
  if (!ring) return [close()];
  return [title(`Loose ground, ring ${n + 1}`), keyed("words", sentence(ring.words)), cureButton(ring), close()];
}

/** A cure is of the lines as they were drawn; where the quilt was changed since, it may cure nothing. */
function cureEdits(cure) {
  const { rev } = app.lines;
  return () => (app.state.rev === rev ? cure.edits : GONE);
}

export function cureButton(ring) {
  const cure = ring.cure === null || ring.cure === undefined ? null : app.lines.cures.find((c) => c.n === ring.cure) ?? app.lines.cures[ring.cure];
  if (!cure) return keyed(`no cure ${ring.x} ${ring.y}`, app.lines.cured ? "No single seam or fill holds it." : "What would hold it is being looked for …");
  return keyed(`cure ${cure.n}`, deed(cure.words, () => ask(cureEdits(cure), cure.words, `cure ${cure.n}`), { key: `cure ${cure.n} ${ring.x}` }), takes(cure));
}

const takes = (cure) => (cure.minutes === null || cure.minutes === undefined ? null : h("span", { class: "small" }, ` ${cure.long}, about ${Math.max(1, Math.round(cure.minutes))} min more`));
