// How it is pressed, and what is quilted, in words.

import { follow, post, Refused } from "./api.mjs";
import { app, ask, render, say } from "./app.mjs";
import { h, tell } from "./dom.mjs";
import { among, deed, fabricNames, fold, keyed, long, pick, threadNames, typed, worded } from "./words.mjs";
import { cureButton, fillTakes } from "./note.mjs";
import { bringFile } from "./topwords.mjs";
import { checkList } from "./pathwords.mjs";
import { threadMore } from "./handwords.mjs";
import { linesTake } from "./minutes.mjs";
import { edgeParts, forwardTicks, motifParts } from "./motifwords.mjs";

const DITCHES = [["all", "every seam"], ["feature", "round what stands forward"], ["blocks", "between blocks, sashing and borders"], ["feature blocks", "round what stands forward, and between blocks"], ["borders", "along the borders alone"], ["none", "nowhere"]];

export function lineWords() {
  const { data } = app.state;
  return h("section", { key: "lines", id: "the-lines", "aria-labelledby": "h-lines" },
    h("h2", { id: "h-lines" }, "Pressing and lines"),
    beginLines(),
    pressWords(data),
    ditchWords(data),
    fills(data),
    edges(data),
    ownLines(data),
    threads(data),
    battingWords(data),
    looseWords(),
    lineSum(),
    doubts(),
  );
}

function pressWords(data) {
  const rule = data.press?.default ?? "darker";
  const forward = data.lines?.feature ?? [];
  const own = data.press?.seams ?? [];
  return h("div", { key: "press" },
    keyed("default", "Seam allowances are pressed ", among(["press", "default"], typeof rule === "string" ? rule : `toward ${rule.toward}`, [["darker", "to the darker side"], ["open", "open"], ...(forward.length ? [["feature", "toward what stands forward"]] : []), ...fabricNames().map((name) => [`toward ${name}`, `toward ${name}`])], "seam allowances are pressed"),
      own.length ? `, but for ${own.length === 1 ? "one kind of seam" : `${own.length} kinds of seams`}:` : "."),
    own.length ? h("ul", { class: "list" }, own.map((seam, k) => h("li", { key: `pressed ${seam.between}` }, `${seam.between.join(" / ")} ${typeof seam.press === "string" ? seam.press : `toward ${seam.press.toward}`}. `,
      deed("As the rest", () => ask([{ op: "drop", path: ["press", "seams", k] }], `${seam.between.join(" / ")} pressed as the rest`), { key: `as rest ${k}`, label: `Press ${seam.between.join(" / ")} as the rest` })))) : null,
    h("div", { key: "forward", id: "forward", class: "say", role: "group", "aria-label": "Fabrics that stand forward" }, "Standing forward: ", forwardTicks(fabricNames())),
  );
}

function ditchWords(data) {
  const lines = data.lines ?? {};
  const ditch = [lines.ditch ?? "all"].flat().join(" ");
  const told = (list, name, words, back) => list?.length ? h("div", { key: name }, h("p", {}, words), h("ul", { class: "list" }, list.map((pair, k) => h("li", { key: `${name} ${pair}` }, `${pair.join(" / ")}. `,
    deed(back, () => ask([{ op: "drop", path: ["lines", name, k] }], `${pair.join(" / ")} as the rest`), { key: `${name} back ${k}`, label: `${back}: ${pair.join(" / ")}` }))))) : null;
  const motif = (lines.feature ?? []).length > 0;
  return h("div", { key: "ditch" },
    keyed("where", "Stitched in the ditch: ", among(["lines", "ditch"], ditch, DITCHES, "stitched in the ditch", { put: (to) => [{ op: "set", path: ["lines", "ditch"], value: to.includes(" ") ? to.split(" ") : to }] }), "."),
    told(lines.include, "include", "And these seams as well:", "As the rest"), told(lines.exclude, "exclude", "But not these seams:", "As the rest"),
    motif ? keyed("motif", motifParts()) : null,
  );
}

const fresh = { region: "rest", style: "meander", spacing: "" };

function fills(data) {
  const { unit } = app.state;
  const asked = data.fills ?? [];
  const regions = [["rest", "all that is still unquilted"], ["ground", "the ground round the pieces"], ...fabricNames().map((name) => [`fabric ${name}`, `all ${name}`]), ...Object.keys(data.blocks ?? {}).map((name) => [name, `every ${name}`]),
    ...(data.layout?.borders ?? []).map((_, k) => [`border ${k + 1}`, `border ${k + 1}`]), ["top", "the whole top"]];
  const here = (name, label, options) => pick({ key: `new fill ${name}`, value: fresh[name], options, label, put: (to) => {
    fresh[name] = to;
    render();
    return null;
  } });
  return fold(`Fills: ${asked.length}`, true,
    asked.map((fill, k) => keyed(`fill ${k}`, `${cap(fill.fabric ? `All ${fill.fabric}` : [fill.region].flat().join(", "))}: `, among(["fills", k, "style"], fill.style, (app.start?.styles ?? []).filter((s) => s !== "motif rows" || fill.style === s), `fill of ${fill.fabric ?? fill.region}`), ", ",
      long(["fills", k, "spacing"], fill.spacing, `spacing of fill ${k + 1}`), " apart, thread ", among(["fills", k, "thread"], fill.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread of fill ${k + 1}`), fillTakes(k), ". ",
      deed("Leave it out", () => ask([{ op: "drop", path: ["fills", k] }], "a fill less"), { key: `drop fill ${k}`, label: `Leave fill ${k + 1} out` }))),
    keyed("new", "Fill ", here("region", "what is filled", regions), " with ", here("style", "style of a new fill", (app.start?.styles ?? []).filter((s) => s !== "motif rows")), ". ",
      deed("Fill it", () => {
        const of = fresh.region.startsWith("fabric ") ? { fabric: fresh.region.slice(7) } : { region: fresh.region };
        ask([{ op: "put", path: ["fills"], at: null, value: { ...of, style: fresh.style, spacing: unit === "in" ? 0.5 : unit === "cm" ? 1.5 : 15 } }], `${fresh.style} on ${fresh.region}`, "new fill region");
      }, { key: "put fill" })));
}

/** Parts of the top with lines at their edges: said where each is touched, told here. */
function edges(data) {
  const asked = data.motifs ?? [];
  return asked.length ? fold(`Lines at edges: ${asked.length}`, true, asked.map((motif, k) => keyed(`edge ${k}`, `${cap([motif.region].flat().join(", "))}: inside `, edgeParts(motif.region), ". ",
    deed("Leave them out", () => ask([{ op: "drop", path: ["motifs", k] }], `no lines at the edge of ${motif.region}`), { key: `drop edge ${k}`, label: `Leave the lines at the edge of ${motif.region} out` })))) : null;
}

/** Lines of hers, from a drawing that lies on the whole top. */
function ownLines(data) {
  const asked = data.drawn ?? [];
  const files = app.drawings;
  const at = (k, ...path) => ["drawn", k, ...path];
  const place = (k, which) => (_, value, now) => {
    const old = now.drawn?.[k]?.at ?? [0, 0];
    return [{ op: "set", path: at(k, "at"), value: value === null ? null : which ? [old[0], value] : [value, old[1]] }];
  };
  return fold(`Lines of your own: ${asked.length}`, asked.length > 0,
    asked.map((lines, k) => keyed(`drawn ${k}`, `Those of ${lines.file}, `, long(at(k, "size"), lines.size, `size of the lines of ${lines.file}`, { hint: "as the file says" }), " along their longer side, their middle ",
      long(at(k, "at", 0), lines.at?.[0], `across, of the lines of ${lines.file}`, { hint: "as drawn", put: place(k, 0) }), " across and ", long(at(k, "at", 1), lines.at?.[1], `down, of the lines of ${lines.file}`, { hint: "as drawn", put: place(k, 1) }),
      " down, thread ", among(at(k, "thread"), lines.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread of the lines of ${lines.file}`), ". ",
      deed("Leave them out", () => ask([{ op: "drop", path: at(k) }], `without the lines of ${lines.file}`), { key: `drop drawn ${k}`, label: `Leave the lines of ${lines.file} out` }))),
    files.length ? keyed("new", "Lay lines over the quilt from ", pick({ key: "new drawn", value: null, options: files, label: "lay lines over the quilt from", words: "lines of your own", put: (file) => (file ? [{ op: "put", path: ["drawn"], at: null, value: { file } }] : null) }), ".") : null,
    bringFile("a drawing of lines"));
}

const cap = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);

function threads(data) {
  const kinds = app.start?.kinds ?? ["ditch", "centre", "outline", "echo", "fill", "drawn"];
  const asked = Object.entries(data.threads ?? {});
  return fold(`Threads: ${asked.length}`, asked.length > 0,
    asked.map(([name, thread]) => [keyed(`thread ${name}`, h("strong", {}, name), " is ", worded(["threads", name, "colour"], thread.colour, `colour of the thread ${name}`, { hint: "as its name says" }), ", ", worded(["threads", name, "size"], thread.size, `size of the thread ${name}`, { hint: "50 wt" }),
      ", and stitches ", pick({ key: `threads/${name}/lines`, value: (thread.lines ?? []).join(" and ") || null, options: [[null, "all that no other does"], ...kinds], label: `what ${name} stitches`, put: (kind) => [{ op: "set", path: ["threads", name, "lines"], value: kind ? [kind] : null }] }),
      ". On a seam it ", pick({ key: `threads/${name}/contrast`, value: thread.contrast ?? false, options: [[false, "does not show"], [true, "would show"]], label: `${name} on a seam`, put: (to) => [{ op: "set", path: ["threads", name, "contrast"], value: to || null }] }), "."), threadMore(name, thread)]),
    keyed("new", "Another thread: ", typed({ key: "new thread", value: "", once: true, label: "name of another thread", hint: "such as dark blue", wide: 12, words: (to) => `the thread ${to}`, put: (to) => (to.trim() ? [{ op: "set", path: ["threads", to.trim()], value: { size: "50 wt" } }] : []) }), " (Enter)."));
}

function battingWords(data) {
  const asked = data.batting ?? {};
  return keyed("batting", "The batting: ", among(["batting", "kind"], asked.kind ?? null, [[null, "not named"], ...(app.start?.usual?.battings ?? [])], "kind of batting"), ". Its label allows ", long(["batting", "distance"], asked.distance, "distance that the label of the batting allows", { hint: asked.kind ? "as is usual" : "not said" }), " from line to line. It stands out by ", long(["batting", "margin"], asked.margin, "margin of batting", { hint: "as is usual" }), ".");
}

function looseWords() {
  const loose = app.lines?.loose ?? [];
  if (!app.lines) return null;
  if (!loose.length) {
    const known = app.state.data.batting?.kind || app.state.data.batting?.distance;
    return keyed("held", known ? "The lines hold the batting everywhere." : "Name the batting, and the page rings the ground that no line holds.");
  }
  const cures = new Map();
  loose.forEach((ring, n) => {
    const of = ring.cure ?? `ring ${n}`;
    if (!cures.has(of)) cures.set(of, []);
    cures.get(of).push(n);
  });
  return h("div", { key: "loose", class: "loose-words" },
    h("p", {}, `${loose.length === 1 ? "One place is" : `${loose.length} places are`} loose: no stitching there holds the batting.`),
    h("ul", { class: "list" }, [...cures.values()].map((rings) => h("li", { key: `loose ${rings[0]}` },
      h("button", { type: "button", class: "lead", key: "go", on: { click: () => app.cloth.spot(loose[rings[0]].x, loose[rings[0]].y, loose[rings[0]].words) } }, `${rings.length > 1 ? "Rings" : "Ring"} ${rings.map((n) => n + 1).join(", ")}`), `: ${loose[rings[0]].words} `, cureButton(loose[rings[0]])))));
}

/** What could go wrong, as far as it is known before there is a path. */
function doubts() {
  const list = (app.lines?.checks ?? []).filter((check) => check.code !== "loose-ground");
  return list.length && !app.plans.length ? fold(`To look after so far: ${list.length}`, false, checkList(list)) : null;
}

function lineSum() {
  if (app.lineSlip) return keyed("slip", h("span", { class: "slip" }, app.lineSlip));
  if (!app.lines) return keyed("sum", "The lines are being drawn …");
  const metres = Object.entries(app.lines.metres ?? {}).filter(([, m]) => m > 0);
  const all = linesTake(() => true);
  return keyed("sum", metres.length ? `To quilt: ${metres.map(([kind]) => `${kind} ${app.lines.long[kind]}, ${linesTake((line) => line.kind === kind)}`).join("; ")}. ${metres.length > 1 ? `In all ${all} of stitching, without` : "That is without"} beginnings, ends and ways.` : "Nothing is quilted yet.", app.drawing ? " Being drawn anew …" : "");
}

// ---- three ways to begin ----

function beginLines() {
  const { proposals } = app;
  return h("div", { key: "begin lines" }, keyed("ask", proposals?.words ? `${proposals.words} ` : "Not sure where to begin? ",
    proposals?.job ? deed("Never mind", () => post(`/api/jobs/${proposals.job}/cancel`), { key: "no proposals" }) : deed("Show three ways to quilt it", makeProposals, { key: "ask proposals" })));
}

async function makeProposals() {
  const { id } = app.state;
  app.slip = null;
  try {
    const { job } = await post(`/api/designs/${encodeURIComponent(id)}/proposals`);
    app.proposals = { job, words: "Three ways are being worked out …" };
    render();
    const made = await follow(job, (kind, what) => {
      if (kind === "now" && app.proposals) app.proposals.words = what.words;
      render();
    });
    if (app.state?.id !== id) return;
    app.proposals = made ? { list: Array.isArray(made) ? made : made.proposals } : null;
    if (made) Object.assign(app, { playing: null, block: null });
    tell(made ? "Three ways to quilt it stand where the quilt was." : "Not worked out.");
    render();
    const ways = document.getElementById("ways");
    ways?.focus();
    ways?.scrollIntoView({ block: "start" });
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    app.proposals = null;
    say(refused.message, true);
  }
}

/** Why there is no such way. */
function noWay({ problem }) {
  return h("p", { class: "slip" }, cap(problem));
}

/** Three ways side by side, in the place of the quilt. */
export function proposalWords() {
  const close = () => {
    app.proposals = null;
    render();
    document.getElementById("quilt")?.focus();
  };
  return h("section", { key: "ways", id: "ways", class: "ways", tabindex: "-1", "aria-label": "Three ways to quilt it" },
    h("div", { class: "three" }, app.proposals.list.map((way) => h("article", { key: way.name },
      h("h3", {}, cap(way.name)),
      way.picture ? h("img", { src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(way.picture)}`, alt: `The quilt: ${way.name}` }) : null,
      way.problem ? noWay(way) : h("dl", {}, [["stitching", way.long], ["breaks", String(way.breaks)], ["about", `${Math.round(way.minutes)} min`]].map(([what, value]) => [h("dt", {}, what), h("dd", {}, value)])),
      h("p", {}, way.words),
      way.problem ? null : deed("Quilt it so", () => ask(way.edits, `quilted so: ${way.name}`).then((done) => done && close()), { key: `take ${way.name}`, label: `Quilt it so: ${way.name}`, main: true })))),
    deed("Back to the quilt", close, { key: "no way" }));
}

