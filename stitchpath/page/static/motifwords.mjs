// What stands forward, with the lines inside and round it, and which thread stitches a kind of line.

import { app, ask, render } from "./app.mjs";
import { h } from "./dom.mjs";
import { taken, written } from "./lengths.mjs";
import { among, colourOf, isKnown, keyed, long, pick, threadNames, typed } from "./words.mjs";

const KINDS = { ditch: "in the ditch", outline: "inside edges", echo: "echoes" };

const forward = () => app.state.data.lines?.feature ?? [];
export const isForward = (name) => forward().includes(name);

/** Which fabrics stand forward: each is told by a tick. */
export function forwardTicks(names) {
  return names.map((name) => h("label", { class: "tick", key: `forward ${name}` },
    h("input", { type: "checkbox", key: `feature ${name}`, checked: isForward(name), on: { change: (_, node) => ask((now) => [{ op: "set", path: ["lines", "feature"], value: [...(now.lines?.feature ?? []).filter((f) => f !== name), ...(node.checked ? [name] : [])] }], `${name} ${node.checked ? "stands" : "does not stand"} forward`, "feature") } }),
    h("span", { class: "swatch", vars: { "--cloth": colourOf(name) ?? "#ccc" } }), name));
}

/** A line inside each motif and echoes round it: of all that stands forward. */
export function motifParts(what = "each motif") {
  const { lines = {} } = app.state.data;
  return [`A line inside ${what}: `, long(["lines", "edge_line"], lines.edge_line, "line inside each motif", { hint: "none" }), ". Echoes round it: ",
    pick({ key: "lines/echo", value: lines.echo ? lines.echo.count ?? 3 : 0, options: COUNTS, label: "echoes round each motif", put: (count, now) => [{ op: "set", path: ["lines", "echo"], value: count ? { step: now.lines?.echo?.step ?? (app.state.unit === "in" ? "1/4 in" : "6 mm"), count } : null }] }),
    lines.echo ? [", ", long(["lines", "echo", "step"], lines.echo.step, "step of the echoes"), " apart"] : null, "."];
}

/** Of what she touched: whether its fabrics stand forward everywhere, and what is then stitched at them. */
export function forwardWords(names) {
  const known = names.filter(isKnown);
  if (!known.length) return null;
  return h("div", { key: "forward", class: "say", role: "group", "aria-label": "Whether it stands forward" }, "Standing forward, wherever it is: ", forwardTicks(known));
}

const COUNTS = [[0, "none"], [1, "one"], [2, "two"], [3, "three"], [4, "four"]];
const fresh = { region: null };

/** The lines inside and round what she touched: of it alone, or of all such. */
export function edgeOf(regions) {
  const region = regions.some(([name]) => name === fresh.region) ? fresh.region : regions[0][0];
  return keyed("edge", "A line inside the edge of ", pick({ key: "edge region", value: region, options: regions, label: "what has lines at its edge", put: (to) => {
    fresh.region = to;
    render();
    return null;
  } }), ": ", edgeParts(region), ".");
}

/** Of one region: how far inside its edge, how many echoes, how far apart, which thread. */
export function edgeParts(region) {
  const { data, unit } = app.state;
  const k = (data.motifs ?? []).findIndex((motif) => String(motif.region) === String(region));
  const asked = data.motifs?.[k] ?? {};
  const said = (value) => (value === true ? "1/16 in" : value || "");
  const edge = (more) => [{ op: "edge", region, ...more }];
  const step = (now) => (now.motifs ?? []).find((motif) => String(motif.region) === String(region))?.echo?.step ?? (unit === "in" ? "1/4 in" : "6 mm");
  return [typed({ key: `edge ${region} line`, value: written(said(asked.edge_line), unit), wide: 4, hint: "none", label: `line inside the edge of ${region}`, words: (to) => `line inside ${region} ${to || "left out"}`, put: (to) => edge({ edge_line: taken(to, unit) }) }),
    ", echoes round it: ", pick({ key: `edge ${region} echo`, value: asked.echo ? asked.echo.count ?? 3 : 0, options: COUNTS, label: `echoes round ${region}`, put: (count, now) => edge({ echo: count ? { step: step(now), count } : null }) }),
    asked.echo ? [", ", long(["motifs", k, "echo", "step"], asked.echo.step, `step of the echoes round ${region}`), " apart"] : null,
    k >= 0 ? [", thread ", among(["motifs", k, "thread"], asked.thread ?? null, [[null, "by kind of line"], ...threadNames()], `thread at the edge of ${region}`)] : null];
}

/** Which thread stitches the kinds of line that she touched. */
export function kindThreads(...kinds) {
  const names = threadNames();
  const drawn = app.lines?.lines ?? [];
  const told = kinds.filter((kind) => drawn.some((line) => line.kind === kind && line.piece === null)).map((kind) => [kind, app.lines.by_kind[kind]]);
  if (!told.length) return null;
  if (names.length < 2) return keyed("threads", `Stitched with ${names[0] ?? "one thread"}, as all is: another can be named under Pressing and lines.`);
  return keyed("threads", "By kind of line the thread is: ", told.map(([kind, thread], k) => [k ? "; " : "", KINDS[kind], " ", pick({ key: `thread of ${kind}`, value: thread, options: names, label: `thread of all lines ${KINDS[kind]}`, words: `${KINDS[kind]}: another thread`,
    put: (to) => [{ op: "thread", kind, thread: to }] })]), ".");
}
