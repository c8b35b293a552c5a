// What lies under her finger, in words: the thing itself, then what it belongs to.

import { app, ask, render } from "./app.mjs";
import { putOnTable } from "./blocktable.mjs";
import { h } from "./dom.mjs";
import { borderOf } from "./cloth.mjs";
import { among, colourOf, deed, fabric, fold, isKnown, keyed, lead, long, number, pick, plainNumber, slipAt, threadNames, typed, worded } from "./words.mjs";
import { borderWords, choose, oneBlock, onePiece, placeWords } from "./topwords.mjs";
import { taken, written } from "./lengths.mjs";
import { GONE } from "./follow.mjs";
import { linesTake, seamsTake } from "./minutes.mjs";
import { edgeOf, forwardWords, kindThreads } from "./motifwords.mjs";

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
    roundWords(patch.name, [n], "it", same > 1 ? [`all ${same} such`, "this patch alone"] : null),
    fillOf(partsOf(patch, same)),
    edgeOf(partsOf(patch, same)),
    forwardWords([patch.fabric]),
    kindThreads("ditch", "outline", "echo"),
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

/** The parts of the top that a patch stands for: itself, all such, its block, its border. */
function partsOf(patch, same) {
  const border = borderOf(patch);
  const regions = [[patch.name, "this patch"]];
  if (same > 1 && patch.such !== patch.name) regions.push([patch.such, `all ${same} such`]);
  if (patch.at) regions.push([patch.at, `the whole block at ${patch.at}`]);
  if (patch.block) regions.push([patch.block, `every ${patch.block}`]);
  if (border !== null) regions.push([`border ${border}`, `the whole of border ${border}`]);
  regions.push(["top", "the whole top"]);
  return regions;
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
    asked && ["parallel", "crosshatch", "waves", "loops", "motif rows"].includes(asked.style) ? [", at ", number(["fills", k, "angle"], asked.angle ?? 0, `angle of the fill of ${region}, degrees to the right`), "°"] : null, fillTakes(k), ".");
}

/** What a fill takes, in brackets. */
export function fillTakes(k) {
  const takes = k < 0 ? null : linesTake((line) => line.fill === k);
  return takes && h("span", { class: "small", key: "takes" }, ` (${takes} of stitching)`);
}

const isPair = (pair) => (x) => String(x) === String(pair) || String([...x].reverse()) === String(pair);

/** What is written of a seam, or of all such: of seams between blocks each is named by itself. */
function writtenOf(seam, such, find) {
  return (such ? find(isPair(seam.such)) : undefined) ?? find(isPair(seam.between));
}

/** Whether a seam, or all such, was said to be stitched (true), or left out (false). */
function standing(seam, such) {
  const lines = app.state.data.lines ?? {};
  return writtenOf(seam, such, (is) => ((lines.exclude ?? []).some(is) ? false : (lines.include ?? []).some(is) ? true : undefined)) ?? null;
}

/** By which rule of its own a seam, or all such, is pressed: as the design has it, in one word. */
function pressing(seam, such) {
  return writtenOf(seam, such, (is) => ruleWord((app.state.data.press?.seams ?? []).findLast((x) => is(x.between))?.press)) ?? null;
}

const ruleWord = (rule) => (rule === undefined || typeof rule === "string" ? rule : `toward ${rule.toward}`);

/** One word for what holds for many; "" where it differs from one to the next. */
const inOne = (all) => (new Set(all).size > 1 ? "" : all[0]);

const someSo = (value, options) => (value === "" ? [["", "some so, some so"], ...options] : options);

const STITCH = [[null, "as all the rest"], [true, "stitch them"], [false, "leave them out"]];

/** The seams round a part of the top, all in one word: whether they are stitched, and how pressed. */
function roundWords(part, inside, what, which = null, such = Boolean(which) && app.such) {
  const mine = new Set(inside.map((n) => app.state.top.patches[n].name));
  const round = app.state.top.seams.filter(({ between: [a, b] }) => mine.has(a) !== mine.has(b));
  if (!round.length) return null;
  const stitched = inOne(round.map((seam) => standing(seam, such)));
  const ask = (op, more) => [{ op, round: part, such, ...more }];
  return keyed("round", `The seams round ${what}: `, pick({ key: "round", value: stitched, options: someSo(stitched, STITCH), label: `the seams round ${what}`, words: `the seams round ${part}`,
    put: (want) => (want === "" ? null : ask("stitch", { want })) }),
  takesRound(round, such), pressedRound(part, mine, what, round, such, ask), which ? [", for ", forWhich(...which)] : null, ".");
}

/** What stitching them takes, in brackets. */
function takesRound(seams, such) {
  const { top } = app.state;
  const like = new Set(seams.map((seam) => seam.like));
  const takes = seamsTake(such ? top.seams.flatMap((x, n) => (like.has(x.like) ? [n] : [])) : seams.map((seam) => seam.n));
  return takes && h("span", { class: "small", key: "takes" }, ` (${takes} in the ditch)`);
}

function pressedRound(part, mine, what, round, such, ask) {
  const fabricOf = fabricByName();
  const ways = round.map((seam) => {
    const [own, other] = (mine.has(seam.between[0]) ? seam.between : [...seam.between].reverse()).map((name) => fabricOf.get(name));
    const rule = pressing(seam, such);
    return own === other || !isKnown(own) || !isKnown(other) ? { rule, alike: true } : { rule: rule === `toward ${own}` ? "in" : rule === `toward ${other}` ? "out" : rule };
  });
  const differ = ways.filter(({ alike }) => !alike);
  if (!differ.length) return null; // of one fabric on both sides, or of none that is known: no rule tells them apart
  const now = inOne(differ.map(({ rule }) => rule));
  return [", pressed ", pick({ key: "press round", value: now, options: someSo(now, [[null, "as all the rest"], ["in", `toward ${what}`], ["out", `away from ${what}`], ["darker", "to the darker side"], ["open", "open"]]), label: `pressed, round ${what}`, words: `pressed round ${part}`,
    put: (rule) => (rule === "" ? null : ask("press", { rule })) })];
}

const fabricByName = () => new Map(app.state.top.patches.map((p) => [p.name, p.fabric]));

/** The seams within a block: of this one, or of every one of its name. */
function withinWords(block) {
  const { top, data } = app.state;
  const own = data.blocks?.[block.block];
  const mine = new Map(top.patches.filter((p) => p.at === block.at).map((p) => [p.name, p.fabric]));
  const seams = top.seams.filter(({ between: [a, b] }) => mine.has(a) && mine.has(b));
  if (!seams.length || !own) return null;
  const such = app.such;
  const stitched = inOne(seams.map((seam) => standing(seam, such)));
  const rule = such ? ruleWord(own.press) ?? null : inOne(seams.map((seam) => pressing(seam, false)));
  const rules = [[null, such ? "as all the rest" : `as every ${block.block}`], ["darker", "to the darker side"], ["open", "open"], ...((data.lines?.feature ?? []).length ? [["feature", "toward what stands forward"]] : []), ...[...new Set(mine.values())].filter(isKnown).map((name) => [`toward ${name}`, `toward ${name}`])];
  return keyed("within", "Its own seams: ", pick({ key: "within", value: stitched, options: someSo(stitched, STITCH), label: "the seams within the block", words: `the seams within ${block.at}`, put: (want) => (want === "" ? null : [{ op: "stitch", within: block.at, such, want }]) }),
    takesRound(seams, such), ", pressed ", pick({ key: "press within", value: rule, options: someSo(rule, rules), label: "pressed, within the block", words: `pressed within ${block.at}`,
      put: (to) => (to === "" ? null : such ? [{ op: "set", path: ["blocks", block.block, "press"], value: to }] : [{ op: "press", within: block.at, rule: to }]) }), ".");
}

// ---- a seam ----

function seamNote(n, top) {
  const seam = top.seams[n];
  const { between } = seam;
  const [one, other] = between;
  const same = top.seams.filter((x) => x.like === seam.like).length;
  const sides = between.map((name) => top.patches.findIndex((p) => p.name === name));
  const fabrics = [...new Set(sides.map((k) => top.patches[k].fabric))];
  const known = fabrics.every(isKnown);
  const such = app.such && same > 1;
  const high = seam.high ?? null;
  const stitched = app.lines?.lines?.some((line) => line.seam === n);
  return [
    title(`The seam of ${one} and ${other}`), seam.words ? keyed("words", sentence(seam.words)) : null,
    app.lines ? keyed("now", stitched ? "It is stitched in the ditch" : "It is not stitched", seamsTake([n]) ? [stitched ? ", which takes " : "; it would take ", seamsTake([n])] : null, such && seamsTake([n]) ? `, all such ${seamsTake(top.seams.flatMap((x, k) => (x.like === seam.like ? [k] : [])))}` : null, ".") : null,
    same > 1 ? keyed("which", "What you say here goes for ", forWhich(`all ${same} such seams`, "this seam alone"), ".") : null,
    keyed("stitch", "In the ditch: ", pick({ key: "stitch", value: standing(seam, such), options: [[null, "as all the rest"], [true, "stitch it"], [false, "leave it out"]], label: "stitched in the ditch",
      put: (want) => [{ op: "stitch", between, such, want }], words: `${one} / ${other} in the ditch` }), "."),
    known ? keyed("press", "Pressed ", pick({ key: "press", value: pressing(seam, such),
      options: [[null, "as all the rest"], ["darker", "to the darker side"], ...(fabrics.length > 1 ? fabrics.map((name) => [`toward ${name}`, `toward ${name}`]) : []), ["open", "open"]], label: "pressed",
      put: (rule) => [{ op: "press", between, such, rule }], words: `${one} / ${other} pressed` }), ". ",
    high === null ? "Its allowances lie open: no side is low." : `${top.patches[high].name} lies high, ${top.patches[seam.low].name} low: the needle runs on the low side.`) : null,
    keyed("sides", "On either side: ", between.map((name, k) => [k ? " and " : "", lead(name, () => choose("patch", sides[k]), { key: `side ${k}` })]), "."),
    fillOf(between.map((name) => [name, name])),
    edgeOf(between.map((name) => [name, name])),
    forwardWords(fabrics),
    kindThreads("ditch", "outline", "echo"),
    close(),
  ];
}

// ---- a place, a border, a piece, loose ground ----

function placeNote(n, top) {
  const block = top.blocks[n];
  const mine = top.patches.flatMap((p, k) => (p.at === block.at ? [k] : []));
  const fabrics = [...new Set(mine.map((k) => top.patches[k].fabric))];
  return [title(block.name ?? block.at, block.name ? ` ${block.at}` : null), placeWords(n, mine.length === 1),
    mine.length ? [keyed("which", "What you say of its seams goes for ", forWhich(`every ${block.block}`, "this block alone"), "."), withinWords(block), roundWords(block.at, mine, "the block", null, app.such)] : null,
    ...[fillOf, edgeOf].map((words) => words([[block.at, "this block"], [block.block, `every ${block.block}`], ["top", "the whole top"]])),
    forwardWords(fabrics),
    kindThreads("ditch", "outline", "echo"),
    fold(`The block: ${block.block}`, true, oneBlock(block.block, app.state.data.blocks[block.block])), close()];
}

function borderNote(n) {
  const { patches } = app.state.top;
  const mine = patches.flatMap((p, k) => (borderOf(p) === n + 1 ? [k] : []));
  const fabrics = [...new Set(mine.map((k) => patches[k].fabric))];
  return [title(`Border ${n + 1}`), borderWords(app.state.data.layout ?? {}, n), roundWords(`border ${n + 1}`, mine, "it"),
    ...[fillOf, edgeOf].map((words) => words([[`border ${n + 1}`, "this border"], ["top", "the whole top"]])), forwardWords(fabrics), kindThreads("ditch", "outline", "echo"), close()];
}

function pieceNote(n, top) {
  const piece = top.pieces[n];
  const k = piece.applique;
  const asked = app.state.data.applique?.[k];
  if (!asked) return [title(piece.name), keyed("words", sentence(piece.words)), close()];
  const at = (...path) => ["applique", k, ...path];
  return [
    title(piece.name, piece.copies > 1 ? ` each of ${piece.copies}` : null),
    piece.copies > 1 ? keyed("copies", `What you say here goes for all ${piece.copies}. `, deed("Let each have words of its own", () => ask(() => [{ op: "part", piece: n }], `each ${piece.name} by itself`, "part"), { key: "part" }), slipAt("part")) : null,
    h("div", { key: "one" }, onePiece(asked, k)),
    keyed("hand", "Drag it on the quilt, or ", deed("take it in hand", () => {
      document.getElementById("quilt").focus();
      document.getElementById("quilt").dispatchEvent(new KeyboardEvent("keydown", { key: "Enter" }));
    }, { key: "take" }), " and move it with the arrow keys."),
    centreWords(piece, asked, at, n),
    keyed("edge", "A line inside its edge: ", long(at("edge_line"), asked.edge_line === true ? "1/16 in" : asked.edge_line || "", `edge line of ${piece.name}`, { hint: "none" }),
      ". Echoes round it: ", pick({ key: "echo", value: asked.echo ? asked.echo.count ?? 3 : 0, options: [[0, "none"], [1, "one"], [2, "two"], [3, "three"], [4, "four"], [5, "five"]], label: `echoes round ${piece.name}`,
        put: (count, now) => [{ op: "set", path: at("echo"), value: count ? { step: now.applique?.[k]?.echo?.step ?? (app.state.unit === "in" ? "1/4 in" : "6 mm"), count } : null }] }),
      asked.echo ? [", ", long(at("echo", "step"), asked.echo.step, `step of the echoes round ${piece.name}`), " apart"] : null, pieceTakes(n, "outline", "echo"), "."),
    keyed("press", "It is fused, not pieced: no seam of it is pressed."),
    fillOf([...(top.blocks.some((b) => b.at === piece.on || b.block === piece.on) ? [[piece.on, `the ground it lies on, ${piece.on}`]] : []), ["ground", "the ground round all pieces"], ["top", "the whole top"]]),
    keyed("thread", "Its thread: ", among(at("thread"), asked.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread of ${piece.name}`), "."),
    close(),
  ];
}

const WAYS = [["once", "once"], ["both", "out and back, in two lines"], ["best", "once, or out and back where that takes less"], ["none", "not at all"]];

/** The lines through the middle of a piece: which arms, and whether once or out and back. */
function centreWords(piece, asked, at, n) {
  const now = asked.centre === false ? "none" : asked.out_and_back ? "both" : asked.lines === "best" ? "best" : "once";
  const put = (way) => [
    { op: "set", path: at("centre"), value: way === "none" ? false : null },
    { op: "set", path: at("out_and_back"), value: way === "both" ? true : null },
    { op: "set", path: at("lines"), value: way === "best" ? "best" : null }];
  return keyed("centre", "Through the middle of its arms it is stitched ", pick({ key: "centre", value: now, options: WAYS, label: `through the middle of ${piece.name}`, put }),
    now === "both" ? [", ", long(at("out_and_back"), asked.out_and_back === true ? "1/16 in" : asked.out_and_back, `how far apart the two lines through ${piece.name} lie`), " apart"] : null,
    now === "none" ? null : [": ", among(at("vein"), asked.vein ?? false, [[false, "its arms"], [true, "its longest way alone, as a vein"]], `what of ${piece.name} is stitched through`),
      asked.vein ? null : [", ", worded(at("arms"), Array.isArray(asked.arms) ? asked.arms.join(", ") : asked.arms, `arms of ${piece.name}`, { hint: "all of them", put: (text) => [{ op: "set", path: at("arms"), value: armsIn(text) }] }), h("span", { class: "small" }, " (all, the longest so many, or hours of a clock face such as 12, 4, 8)")]], pieceTakes(n, "centre"), ".");
}

/** What the lines of one kind take at one piece, in brackets. */
function pieceTakes(n, ...kinds) {
  const takes = linesTake((line) => line.piece === n && kinds.includes(line.kind));
  return takes && h("span", { class: "small", key: `takes ${kinds[0]}` }, ` (${takes})`);
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
