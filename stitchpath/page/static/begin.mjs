// How a quilt begins. Her own things stand first: what was left unsaved, her files, a drawing; then
// an empty top in one sentence; then quilts to learn from.

import { get, post, Refused, upload } from "./api.mjs";
import { app, render, say, take } from "./app.mjs";
import { h, tell } from "./dom.mjs";

const empty = { name: "My quilt", unit: "in", columns: "3", rows: "2", block: "10" };
const drawing = { file: "", size: "", unit: "" };
let wrong = {}; // key → sentence
let busy = null;

export async function loadStart() {
  app.start = await get("/api/start");
}

/** Open a design, and go to its page. */
export async function open(what, key) {
  if (busy) return;
  wrong = {};
  busy = key;
  render();
  try {
    const state = await post("/api/designs", what);
    busy = null;
    history.pushState(null, "", `#/${encodeURIComponent(state.id)}`);
    say(null);
    take(state);
    tell(`${state.data.name} lies before you.`);
    scrollTo(0, 0);
    document.getElementById("name")?.focus();
  } catch (refused) {
    busy = null;
    if (!(refused instanceof Refused)) throw refused;
    wrong = { [key]: refused.message };
    tell(refused.message, true);
    render();
  }
}

const slip = (key) => wrong[key] && h("span", { class: "slip", key: `slip ${key}`, id: `slip-${key}` }, wrong[key]);
const tied = (key) => ({ "aria-invalid": wrong[key] ? "true" : null, "aria-describedby": wrong[key] ? `slip-${key}` : null });

function field(kept, name, label, more = {}) {
  return h("input", {
    class: "word", key: `${label}`, id: `begin-${label.replaceAll(" ", "-")}`, "aria-label": label, value: kept[name], autocomplete: "off", spellcheck: "false",
    size: Math.max(String(kept[name]).length, more.wide ?? 2), placeholder: more.hint ?? null, inputmode: more.mode ?? null, ...tied(more.key ?? "empty"),
    on: { input: (_, node) => {
      kept[name] = node.value;
      node.setAttribute("size", Math.max(node.value.length, more.wide ?? 2));
    } },
  });
}

function choice(kept, name, label, options) {
  return h("select", { class: "word", key: label, "aria-label": label, value: kept[name], on: { change: (_, node) => {
    kept[name] = node.value;
    render();
  } } }, options.map(([value, words]) => h("option", { value }, words)));
}

function numbered(text) {
  return /^\s*\d+\s*$/.test(text) ? Number(text) : text;
}

function beginEmpty(event) {
  event.preventDefault();
  const block = empty.block.trim();
  open({ empty: {
    name: empty.name.trim(), unit: empty.unit, columns: numbered(empty.columns), rows: numbered(empty.rows),
    size: /^\d+(\.\d+)?$/.test(block) ? Number(block) : block,
  } }, "empty");
}

function beginDrawing(event) {
  event.preventDefault();
  const asked = { drawing: drawing.file };
  if (drawing.size.trim()) asked.size = /^\d+(\.\d+)?$/.test(drawing.size.trim()) ? Number(drawing.size) : drawing.size.trim();
  if (drawing.unit) asked.unit = drawing.unit;
  open(asked, "drawing");
}

/** Begin with a drawing; what it does not say is then asked for. */
export function openDrawing(file) {
  drawing.file = file;
  return open({ drawing: file }, "drawing");
}

/** Bring a file of hers into the folder, then open it or put it at hand. */
async function bring(node) {
  const [file] = node.files;
  if (!file) return;
  wrong = {};
  try {
    const { file: name } = await upload(file);
    await loadStart();
    if (/\.toml$/i.test(name)) await open({ file: name }, "bring");
    else {
      drawing.file = name;
      tell(`${name} is in the folder. Say its size, or begin with it.`);
      render();
      document.getElementById("begin-drawing")?.focus();
    }
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    wrong = { bring: refused.message };
    tell(refused.message, true);
    render();
  }
  node.value = "";
}

async function dropDraft(draft) {
  try {
    await post("/api/drafts/drop", { draft: draft.id });
    await loadStart();
    tell(`The draft of ${draft.title} is thrown away.`);
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    wrong = { [`draft ${draft.id}`]: refused.message };
    tell(refused.message, true);
  }
  render();
}

const card = (what, key, title, words, picture, more = null) =>
  h("li", { key }, h("button", { type: "button", class: "card", disabled: busy !== null, on: { click: () => open(what, key) }, ...tied(key) },
    picture ? h("img", { src: picture, alt: "", loading: "lazy" }) : null,
    h("span", { class: "title" }, title), words ? h("span", { class: "small" }, words) : null,
    busy === key ? h("span", { class: "small" }, "is being laid out …") : null), more, slip(key));

const draftCard = (d) => card({ draft: d.id }, `draft ${d.id}`, d.title, `take it up again, as of ${d.when}`, null,
  h("button", { type: "button", class: "deed", "aria-label": `Throw the draft of ${d.title} away`, on: { click: () => dropDraft(d) } }, "Throw it away"));

const fileCard = (f, recent) => card({ file: f.file }, `file ${f.file}`, f.title ?? f.file, `${f.file}${recent.has(f.file) ? ", opened lately" : ""}`);

export function beginPage() {
  const { start } = app;
  if (!start) return [h("main", { id: "begin", key: "begin" }, h("h1", {}, "stitchpath"), h("p", {}, "The folder is being looked through …"))];
  // One that she has just brought is offered whatever made it.
  const drawings = [...new Set([...(start.drawings ?? []), drawing.file])].filter(Boolean);
  const recent = new Set(start.recent ?? []);
  // What she opened lately comes first, from whatever folder.
  const lately = (start.below ?? []).flatMap(({ files: inside }) => inside.filter((f) => recent.has(f.file)));
  const files = [...lately, ...(start.files ?? [])].sort((a, b) => recent.has(b.file) - recent.has(a.file));
  return [h("main", { id: "begin", key: "begin" },
    h("h1", {}, "What will you quilt?"),
    h("p", { class: "lede" }, "The top first; then how it is pressed and which lines you quilt; then the path for the needle; then the guide to print."),
    start.drafts?.length ? h("section", { key: "drafts", class: "drafts" },
      h("h2", {}, "Left unsaved"),
      h("p", {}, "This was kept when the page or the machine went away."),
      h("ul", { class: "cards" }, start.drafts.slice(0, 3).map(draftCard)),
      start.drafts.length > 3 ? h("details", { key: "older" }, h("summary", {}, `Older ones: ${start.drafts.length - 3}`), h("ul", { class: "cards" }, start.drafts.slice(3).map(draftCard))) : null,
    ) : null,
    h("section", { key: "empty" },
      h("h2", {}, "An empty top"),
      h("form", { id: "empty", on: { submit: beginEmpty } },
        h("p", { class: "say" }, "A top called ", field(empty, "name", "name of the quilt", { wide: 10 }), " of ", field(empty, "columns", "blocks across", { mode: "numeric" }),
          " blocks across and ", field(empty, "rows", "blocks down", { mode: "numeric" }), " down, each ",
          field(empty, "block", "size of a block", { wide: 4 }), " ", choice(empty, "unit", "measured in", [["in", "inches"], ["cm", "centimetres"], ["mm", "millimetres"]]),
          " square when finished."),
        slip("empty"),
        h("button", { class: "main", type: "submit", disabled: busy !== null }, "Lay it out"),
      )),
    h("section", { key: "hers" },
      h("h2", {}, "A quilt of yours"),
      h("p", { class: "small" }, "From the folder ", h("strong", {}, start.folder ?? ""), "."),
      files.length ? h("ul", { class: "cards plain" }, files.map((f) => fileCard(f, recent)))
        : h("p", {}, start.below?.length ? "No design lies in it by itself." : "No design lies there yet."),
      (start.below ?? []).map(({ folder, files: inside }) => h("details", { key: `folder ${folder}` }, h("summary", {}, `In its folder ${folder}: ${inside.length}`),
        h("ul", { class: "cards plain" }, inside.map((f) => fileCard(f, recent))))),
      h("p", { class: "say" }, h("label", { for: "bring" }, "Bring a file into it: a design (.toml), or a drawing (.svg, .dxf) "),
        h("input", { type: "file", id: "bring", accept: ".toml,.svg,.dxf", ...tied("bring"), on: { change: (_, node) => bring(node) } })),
      slip("bring")),
    drawings.length ? h("section", { key: "drawing" },
      h("h2", {}, "A drawing of the finished top"),
      h("form", { on: { submit: beginDrawing } },
        h("p", { class: "say" }, "The top is drawn in ",
          h("select", { class: "word", id: "begin-drawing", "aria-label": "drawing", value: drawing.file, ...tied("drawing"), on: { change: (_, node) => {
            drawing.file = node.value;
            render();
          } } }, h("option", { value: "" }, "choose a drawing"), drawings.map((d) => h("option", { value: d.file ?? d }, d.file ?? d))),
          ", its longer side ", field(drawing, "size", "size of the longer side", { wide: 15, hint: "as the file says", key: "drawing" }),
          ", measured in ", choice(drawing, "unit", "unit of the design", [["", "what the file uses"], ["in", "inches"], ["cm", "centimetres"], ["mm", "millimetres"]]), "."),
        slip("drawing"),
        h("button", { class: "main", type: "submit", disabled: busy !== null || !drawing.file }, "Take it as the top"))) : null,
    h("section", { key: "shipped" },
      h("h2", {}, "Quilts to begin from"),
      h("ul", { class: "cards pictures" }, (start.shipped ?? []).map((d) => card({ shipped: d.id }, `shipped ${d.id}`, d.title, d.size, d.picture)))),
  )];
}
