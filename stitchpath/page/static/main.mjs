// The page from its start: the token, what was asked for, and all of it brought up to date.

import { get, post, Refused } from "./api.mjs";
import { app, ask, drawWith, learnDrawings, nameOf, onTaken, redo, render, say, suchShapes, take, undo, wantLines } from "./app.mjs";
import { fill, h, listen, spoken, tell } from "./dom.mjs";
import { Cloth } from "./cloth.mjs";
import { beginPage, loadStart, open, openDrawing } from "./begin.mjs";
import { noteWords } from "./note.mjs";
import { topWords } from "./topwords.mjs";
import { lineWords, proposalWords } from "./linewords.mjs";
import { fetchPlans, pathWords } from "./pathwords.mjs";
import { awayWords, save } from "./awaywords.mjs";
import { blockTable, bringNew, tableWords } from "./blocktable.mjs";
import { deed, typed } from "./words.mjs";
import { GONE } from "./follow.mjs";

const page = document.getElementById("page");
let shownTop = null, shownLines = null, marked = "", onTable = null, known = null, home = null;

const CHAPTERS = [["the-top", "The top"], ["the-lines", "Pressing and lines"], ["the-path", "The path"], ["take-away", "To take away"]];

function header() {
  const { state } = app;
  return h("header", { key: "head", id: "head" },
    h("h1", { class: "unseen", id: "name", tabindex: "-1" }, state.data.name),
    h("p", { class: "title", key: "title" }, typed({ key: "name", value: state.data.name, label: "name of the quilt", wide: 8, put: (text) => [{ op: "set", path: ["name"], value: text.trim() || null }], words: (text) => `called ${text}` }),
      h("span", { class: "small" }, `${state.top ? `${state.top.size}. ` : ""}${state.saved ? `Saved as ${state.file}.` : state.file ? `Changed since it was saved as ${state.file}; a draft is kept.` : "Not saved yet; a draft is kept."}`)),
    h("p", { class: "acts", key: "acts" },
      deed(state.undo ? `Undo: ${state.undo}` : "Undo", undo, { key: "undo", off: !state.undo }), deed(state.redo ? `Do again: ${state.redo}` : "Do again", redo, { key: "redo", off: !state.redo }),
      deed("Save", () => save(), { key: "save", off: state.saved }), deed("Another quilt", leave, { key: "leave" })),
    h("nav", { key: "chapters", "aria-label": "Parts of the text" }, CHAPTERS.map(([id, words]) => h("a", { key: id, href: `#${id}`, on: { click: (event) => {
      event.preventDefault();
      document.getElementById(id)?.scrollIntoView({ block: "start" });
      document.getElementById(id)?.querySelector("h2")?.setAttribute("tabindex", "-1");
      document.getElementById(id)?.querySelector("h2")?.focus();
    } } }, words))),
    h("p", { key: "said", class: "said", hidden: !app.said }, app.said ?? ""),
    app.over ? h("p", { key: "over" }, deed("Write over it all the same", () => save(app.over.file, app.over.file ? "file" : "save", true), { key: "write over" })) : null,
    app.slip && !fieldOf(app.slip.key) ? h("p", { key: "slip", class: "slip" }, app.slip.sentence) : null);
}

/** Whether a field can bear the sentence of a refusal; else it stands at the head. */
const fieldOf = (key) => key && [...page.querySelectorAll("[aria-label], input, select")].some((node) => node.key === key);

function below() {
  const shown = app.cloth.shown;
  const toggle = (name, words) => h("label", { class: "tick", key: name }, h("input", { type: "checkbox", checked: shown[name], on: { change: (_, node) => {
    app.cloth.dress({ [name]: node.checked });
    render();
  } } }), words);
  return h("div", { key: "below", id: "below" },
    h("p", { key: "held", id: "held" }, app.held ?? ""),
    h("div", { key: "zoom", class: "say", role: "group", "aria-label": "Near and far" }, deed("Farther", () => app.cloth.closer(1 / 1.6), { key: "farther" }), deed("Whole quilt", () => app.cloth.farthest(), { key: "whole" }), deed("Closer", () => app.cloth.closer(1.6), { key: "closer" })),
    h("div", { key: "shown", class: "say", role: "group", "aria-label": "Shown on the quilt" }, "Shown: ", toggle("lines", "lines to quilt"), toggle("low", "low sides of seams"), toggle("loose", "loose ground"), toggle("names", "names of places")));
}

function designPage() {
  const { state } = app;
  const film = app.playing;
  const aside = film ? "film" : app.proposals?.list ? "ways" : app.block ? "table" : "";
  return [
    header(),
    h("main", { key: "job", id: "job" },
      h("div", { key: "cloth-side", id: "cloth-side" },
        h("div", { key: "stage", id: "stage" },
          h("div", { key: `quilt ${state.id}`, id: "quilt", "data-own": "", "data-rev": state.rev, "data-id": state.id, tabindex: aside ? "-1" : "0", role: "listbox", "aria-roledescription": "quilt", "aria-label": quiltWords(), hidden: Boolean(aside) }),
          film ? h("iframe", { key: `film ${film}`, id: "film", title: "The path, played over the quilt", src: `/api/plans/${encodeURIComponent(film)}/moving`, tabindex: "0" }) : null,
          aside === "ways" ? proposalWords() : null,
          aside === "table" ? blockTable() : null,
          state.problem && !state.top ? h("p", { key: "problem", class: "slip" }, state.problem.sentence) : null),
        aside ? null : below()),
      h("div", { key: "words", id: "words" },
        app.block ? tableWords() : noteWords(),
        topWords(), lineWords(), pathWords(), awayWords())),
  ];
}

function quiltWords() {
  const { top } = app.state;
  return top ? `The quilt, ${top.size}. Arrow right and left go from place to place, arrow down into one, arrow up out of it, Enter to its words.` : "The quilt";
}

drawWith(() => {
  if (!app.state) {
    document.title = "stitchpath: begin";
    app.cloth = null;
    fill(page, beginPage());
    return;
  }
  document.title = `${app.state.data.name}: stitchpath`;
  const spread = app.cloth ? [...app.cloth.host.childNodes] : [];
  app.cloth ??= newCloth();
  const held = withParents(document.activeElement);
  fill(page, designPage());
  if (held.length && !held[0].isConnected) goOnBeside(held);
  else if (held.length && document.activeElement !== held[0]) held[0].focus({ preventScroll: true }); // it was moved
  const host = document.getElementById("quilt");
  if (app.cloth.host !== host || !spread.length) app.cloth.spread(host);
  if (shownTop !== app.state.top) app.cloth.show(app.state.top);
  app.cloth.outdated(Boolean(app.lines) && app.lines.tops !== app.state.tops);
  if (shownLines !== app.lines) app.cloth.showLines(app.lines);
  const now = JSON.stringify([app.chosen, app.such, app.state.rev, app.state.id]);
  if (marked !== now) app.cloth.mark(app.chosen, suchShapes());
  app.cloth.named(nameOf(app.chosen) ?? "nothing touched yet");
  [shownTop, shownLines, marked] = [app.state.top, app.lines, now];
  if (onTable !== app.block && app.block) bringForth("own-block");
  onTable = app.block;
});

/** What has the focus, and all that it lies in, within the page. */
function withParents(node) {
  const found = [];
  for (let at = node; at && at !== page && page.contains(at); at = at.parentNode) found.push(at);
  return found;
}

/** What she was at is gone, as it was done: she goes on at the first word of the sentence that is left. */
function goOnBeside(held) {
  const left = held.find((node) => node.isConnected && node.id !== "job" && node.querySelector("input, select, button, a[href]"));
  left?.querySelector("input, select, button, a[href]").focus({ preventScroll: true });
}

/** Bring what is new into view, and to the ear. */
function bringForth(id) {
  const part = document.getElementById(id);
  part.scrollIntoView({ block: "start" });
  part.focus({ preventScroll: true });
}

function newCloth() {
  [shownTop, shownLines, marked] = [null, null, ""];
  return new Cloth({
    chosen: (thing, _, walked) => {
      app.chosen = thing;
      if (app.slip) app.slip = null;
      render();
      if (thing) tell(`${spoken(document.getElementById("note-title"))}. ${walked ? spoken(document.querySelector("#note p")) : ""}`);
      if (thing && !walked) document.getElementById("words").scrollTo({ top: 0 });
    },
    moved: (n, change) => {
      const piece = app.state.top.pieces[n];
      const named = nameOf({ kind: "piece", n });
      const now = () => app.state.top?.pieces.findIndex((_, k) => nameOf({ kind: "piece", n: k }) === named) ?? -1;
      return ask(() => (now() < 0 ? GONE : [{ op: "move", piece: now(), ...change }]), `${piece.name} ${change.at ? "laid elsewhere" : change.turn === undefined ? "sized" : "turned"}`, "move");
    },
    held: (words) => {
      app.held = words;
      const place = document.getElementById("held");
      if (place) place.textContent = words ?? "";
    },
    entered: () => document.getElementById("note")?.focus(),
  });
}

onTaken(() => {
  bringNew();
  wantLines();
  if (known !== app.state.id) fetchPlans(); // of a quilt that was open before, its paths are kept
  if (known !== app.state.id || home !== app.state.file) learnDrawings();
  [known, home] = [app.state.id, app.state.file];
});

async function leave() {
  history.pushState(null, "", "#/");
  await arrive();
}

/** Show what the address asks for: a design, or the beginning. */
async function arrive(first = false) {
  const id = /^#\/(.+)$/.exec(location.hash)?.[1];
  if (id) {
    if (app.state?.id === decodeURIComponent(id)) return;
    try {
      const state = await get(`/api/designs/${id}`);
      app.start ??= await get("/api/start");
      take(state);
      return;
    } catch (refused) {
      if (!(refused instanceof Refused)) throw refused;
      say(refused.message, true);
    }
  }
  app.state = null;
  known = null;
  render();
  await loadStart();
  const named = first ? app.start.open : null;
  if (!named) render();
  else if (/\.toml$/i.test(named)) await open({ file: named }, `file ${named}`);
  else await openDrawing(named);
}

async function begin() {
  listen(page);
  render();
  const token = location.hash.startsWith("#/") ? "" : location.hash.slice(1).replace(/^token=/, "");
  try {
    if (token) {
      await post("/api/enter", { token });
      history.replaceState(null, "", "#/");
    }
    await arrive(true);
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    fill(page, h("main", { id: "begin" }, h("h1", {}, "stitchpath"), h("p", { class: "slip" }, refused.message)));
  }
}

addEventListener("popstate", () => location.hash.startsWith("#/") && arrive());
addEventListener("keydown", (event) => {
  if (!app.state || !(event.ctrlKey || event.metaKey)) return;
  const name = event.key.toLowerCase();
  const inWord = /^(input|textarea)$/.test(document.activeElement?.localName ?? "") && document.activeElement.value !== document.activeElement.fresh;
  if (name === "s") {
    event.preventDefault();
    save();
  } else if (!inWord && name === "z") {
    event.preventDefault();
    (event.shiftKey ? redo : undo)();
  } else if (!inWord && name === "y") {
    event.preventDefault();
    redo();
  }
});

begin();
