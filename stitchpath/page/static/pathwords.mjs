// The path for the needle: asked for, watched while it is sought, played, compared.

import { follow, post, Refused } from "./api.mjs";
import { app, of, render, say } from "./app.mjs";
import { h, tell } from "./dom.mjs";
import { deed, fold, keyed, lead } from "./words.mjs";
import { choices } from "./handwords.mjs";

export function pathWords() {
  const { plan } = app;
  return h("section", { key: "path", id: "the-path", "aria-labelledby": "h-path" },
    h("h2", { id: "h-path" }, "The path"),
    choices(),
    plan ? running(plan) : keyed("go", deed(app.plans.length ? "Plan the path anew" : "Plan the path", makePlan, { key: "plan", main: true })),
    app.planSlip ? keyed("slip", h("span", { class: "slip" }, app.planSlip)) : null,
    app.plans.length ? result(app.plans[0]) : plan ? null : keyed("none", "No path yet. It is worked out here, on this machine; how long it may take is told while it runs."),
    app.plans.length > 1 ? sideBySide() : null,
  );
}

// ---- a plan that is sought ----

async function makePlan() {
  const { id } = app.state;
  app.planSlip = null;
  app.plan = { words: "the work is being begun", best: null, bound: null, since: performance.now() };
  const clock = setInterval(render, 1000); // a search may find nothing new for a while: it is at work
  render();
  try {
    const { job } = await post(`/api/designs/${encodeURIComponent(id)}/plan`, {});
    app.plan.job = job;
    render();
    document.getElementById("cancel")?.focus();
    const made = await follow(job, (kind, what) => {
      if (!app.plan) return;
      if (kind === "now") Object.assign(app.plan, { words: what.words, share: null });
      else Object.assign(app.plan, { words: `looking for the path, ${what.label.replace(/, thread$/, "")}`, best: what.best, bound: what.bound, share: what.share, gap: what.words });
      render();
    });
    if (app.state?.id !== id) return;
    app.plan = null;
    if (made) {
      app.plans = [made, ...app.plans].slice(0, 8);
      Object.assign(app, { playing: idOf(made), block: null, proposals: null });
      tell(`The path is found: ${made.runs} runs, about ${Math.round(made.minutes)} minutes.`);
    } else tell("Stopped. No path was made.");
    render();
    const end = document.getElementById(made ? "h-result" : "h-path");
    end?.setAttribute("tabindex", "-1");
    end?.focus();
    end?.scrollIntoView({ block: "start" });
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    app.plan = null;
    app.planSlip = refused.message;
    tell(refused.message, true);
    render();
  } finally {
    clearInterval(clock);
  }
}

/** Whether the quilt is another now than the one that was planned. */
export const isOld = (plan) => plan.digest !== app.state.digest;

export const idOf = (plan) => plan["plan id"] ?? plan.plan ?? plan.id;

function running({ words, best, bound, share = null, gap, job, since }) {
  const seconds = Math.floor((performance.now() - since) / 1000);
  return h("div", { key: "running", class: "running" },
    h("p", { id: "p-words" }, `${words.slice(0, 1).toUpperCase()}${words.slice(1)} …`),
    seconds ? h("p", { key: "since", class: "small" }, `At work for ${clockWords(seconds)}.`) : null,
    h("progress", { "aria-labelledby": "p-words", max: share === null ? null : 1, value: share }),
    h("p", { key: "figures" }, best === null ? "Best and bound stand here as soon as there is a first path."
      : best > bound * (1 + 1e-9) ? `Best so far ${worth(best)}, and none can take less than ${worth(bound)}: ${gap}.`
        : `Best ${worth(best)}, and none can take less.`),
    h("button", { type: "button", id: "cancel", class: "main", disabled: !job, on: { click: () => post(`/api/jobs/${job}/cancel`) } }, "Stop looking"));
}

/** What a route costs: time at her pace, or the length of stitching that it is worth. */
function worth(value) {
  if (app.state.data.prices) return `${(value / 1000).toFixed(2)} m of stitching`;
  return clockWords(value);
}

const clockWords = (seconds) => (seconds >= 90 ? `${Math.floor(seconds / 60)} min ${Math.round(seconds % 60)} s` : `${Math.round(seconds)} s`);

// ---- what was found ----

function result(plan) {
  const id = idOf(plan);
  const old = isOld(plan);
  return h("div", { key: `result ${id}`, class: "result" },
    h("h3", { id: "h-result", tabindex: "-1" }, "The path that was found"),
    old ? keyed("old", h("em", {}, "The quilt was changed since. Plan it anew to have it so.")) : null,
    keyed("play", app.playing === id ? deed("Back to the quilt itself", () => play(null), { key: "quilt" }) : deed("Play it over the quilt", () => play(id), { key: "play" })),
    h("table", {}, h("caption", { class: "unseen" }, "The path in figures"), h("tbody", {}, plan.summary.map(([what, value], k) => h("tr", { key: `${k}` }, h("th", { scope: "row" }, what), h("td", {}, value))))),
    stopWords(plan),
    threadRows(plan),
    costRows(plan),
    checks(plan));
}

/** Where she stops, and what for: as what is fused before or after asks for. */
function stopWords({ stops }) {
  if (!stops?.length) return null;
  return h("div", { key: "stops" }, h("h3", {}, "Where you stop"), h("ol", { class: "list" }, stops.map((words, k) => h("li", { key: `stop ${k}` }, `${words}.`))));
}

function threadRows({ thread }) {
  if (!thread?.rows?.length) return null;
  return h("div", { key: "thread" }, h("h3", {}, "Thread and bobbins"), h("div", { class: "wide", role: "group", tabindex: "0", "aria-label": "Thread and bobbins" }, h("table", {}, h("thead", {}, h("tr", {}, thread.header.map((words) => h("th", { scope: "col" }, words)))),
    h("tbody", {}, thread.rows.map((row, k) => h("tr", { key: `${k}` }, row.map((words, c) => (c ? h("td", {}, words) : h("th", { scope: "row" }, words)))))))));
}

function costRows({ costs }) {
  if (!costs?.length) return null;
  return fold("What takes the time, cloth to cut, and charges", false, h("table", {}, h("tbody", {}, costs.map(([what, words], k) => h("tr", { key: `${k}` }, h("th", { scope: "row" }, what), h("td", {}, words))))));
}

export function play(id) {
  Object.assign(app, id ? { playing: id, block: null, proposals: null } : { playing: null });
  render();
  if (id) document.getElementById("film")?.focus();
}

function checks(plan) {
  const list = plan.checks ?? [];
  return list.length ? h("div", { key: "checks" }, h("h3", {}, `To look after: ${list.length}`), checkList(list)) : keyed("fine", "Nothing to look after.");
}

/** Findings, each of which leads to its place on the quilt. */
export function checkList(list) {
  return h("ul", { class: "list" }, list.map((check, k) => h("li", { key: `check ${k}`, class: check.kind === "note" ? "check" : "check mind" },
    check.kind === "warning" ? h("strong", {}, "Mind: ") : null, check.words, " ",
    (check.places ?? []).slice(0, 6).map(([x, y], p) => lead(check.places.length > 1 ? `place ${p + 1}` : "Show where", () => {
      Object.assign(app, { playing: null, block: null, proposals: null });
      app.chosen = app.cloth.meant([x, y]);
      render();
      app.cloth.spot(x, y, `Here: ${check.words}`);
    }, { key: `at ${k} ${p}` })).flatMap((node, p) => (p ? [" ", node] : [node])))));
}

/** The two newest plans beside each other; what differs is marked in words. */
function sideBySide() {
  const [now, before] = app.plans;
  const told = ({ summary, stops }) => [...summary, ...(stops?.length ? [["stops", stops.join("; ")]] : [])];
  const [mine, was] = [told(now), told(before)];
  const other = new Map(was);
  const rows = [...mine.map(([what, value]) => [what, value, other.get(what) ?? ""]), ...was.filter(([what]) => !mine.some(([w]) => w === what)).map(([what, value]) => [what, "", value])];
  return h("div", { key: "both", class: "both" }, h("h3", {}, "Beside the plan before"),
    h("table", {}, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "What"), h("th", { scope: "col" }, "now"), h("th", { scope: "col" }, "before"))),
      h("tbody", {}, rows.map(([what, a, b], k) => h("tr", { key: `${k}`, class: a === b ? null : "differs" }, h("th", { scope: "row" }, what, a === b ? null : h("small", {}, " differs")), h("td", {}, a), h("td", {}, b))))),
    deed("Play the plan before", () => play(idOf(before)), { key: "play before" }));
}

/** The plans that are kept of a design that was opened again. */
export async function fetchPlans() {
  const { id } = app.state;
  try {
    const kept = await of("plans");
    if (app.state?.id !== id) return;
    const list = Array.isArray(kept) ? kept : kept.plans ?? [];
    app.plans = list.filter((plan) => plan.summary).reverse();
    render();
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    say(refused.message, true);
  }
}
