// What she takes away: the guide first, everything second, then the design itself.

import { get } from "./api.mjs";
import { app, on, render, say, take, text } from "./app.mjs";
import { h } from "./dom.mjs";
import { told } from "./lengths.mjs";
import { deed, fold, keyed, slipAt, tied } from "./words.mjs";
import { idOf, isOld } from "./pathwords.mjs";

const files = new Map(); // plan id → what can be taken

async function look(id) {
  if (files.has(id)) return;
  files.set(id, null);
  files.set(id, await get(`/api/plans/${encodeURIComponent(id)}/files`).catch(() => []));
  render();
}

export function awayWords() {
  const [plan] = app.plans;
  const id = plan && idOf(plan);
  if (id) look(id);
  const known = id ? files.get(id) ?? [] : [];
  const groups = Array.isArray(known) ? [] : known.files ?? [];
  const at = (format) => `/api/plans/${encodeURIComponent(id)}/files/${format}`;
  const guide = app.state.unit === "in" ? "guide-letter" : "guide";
  const link = (href, words, more = {}) => h("a", { href, download: "", class: more.main ? "main" : "lead", key: more.key ?? words }, words);
  return h("section", { key: "away", id: "take-away", "aria-labelledby": "h-away" },
    h("h2", { id: "h-away" }, "To take away"),
    id ? h("div", { key: "files" },
      keyed("guide", link(at(guide), "The printed guide", { main: true, key: "guide" }), " ", link(`/api/plans/${encodeURIComponent(id)}/all.zip`, "Everything, in one archive", { key: "all" })),
      isOld(plan) ? keyed("old", h("em", {}, "These are of the quilt as it was when its path was planned.")) : null,
      groups.length ? fold("One by one", false, groups.map(({ group, formats }) => h("div", { key: group }, h("h3", {}, group), h("ul", { class: "list" }, formats.map((file) => h("li", { key: file.name }, link(at(file.name), file.name), `: ${file.words}`)))))) : null,
    ) : keyed("first", "Plan the path first: then the guide is one touch away."),
    saveWords(),
    keyed("text", "The design as it is written: ", h("a", { href: text(), target: "_blank", rel: "noopener", class: "lead" }, "its text"), "."),
  );
}

const kept = { file: "", name: "", size: "" };

function field(name, label, hint) {
  return h("input", { class: "word", key: label, id: `away-${name}`, "aria-label": label, value: kept[name], placeholder: hint, size: Math.max(hint.length, kept[name].length, 8), autocomplete: "off", spellcheck: "false",
    ...tied(name), on: { input: (_, node) => {
      kept[name] = node.value;
    } } });
}

function saveWords() {
  const { state } = app;
  return h("div", { key: "save" },
    keyed("as", "Save it under another name: ", field("file", "name of the file", `${plainName()}${state.file ? "-2" : ""}.toml`), " ", deed("Save so", () => save(kept.file.trim(), "file"), { key: "save as" }), slipAt("file")),
    keyed("size", "The same quilt in another size: its longer side ", field("size", "longer side of the new quilt", longer()), ", called ", field("name", "name of the new quilt", `${state.data.name} 2`), ". ", deed("Make it", duplicate, { key: "duplicate" }), slipAt("size")));
}

/** The name of the quilt as a file may bear it. */
const plainName = () => app.state.data.name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "quilt";

/** Its longer side as it is: what another size is told against. */
function longer() {
  const { top, unit } = app.state;
  if (!top) return unit === "in" ? "80 in" : "200 cm";
  const [x0, y0, x1, y1] = top.box;
  return told(Math.max(x1 - x0, y1 - y0), unit);
}

/** Save; without a name, where it came from. */
export async function save(file = null, key = "save", overwrite = false) {
  if (!file && !app.state.file) {
    file = `${plainName()}.toml`;
  }
  const state = await on("save", { have: app.state.tops, ...(file ? { file } : {}), ...(overwrite ? { overwrite } : {}) }, key);
  if (!state) {
    if (key === "save") {
      say(`${app.slip.sentence}`, true);
      app.slip = null;
      render();
    } else render();
    return;
  }
  kept.file = "";
  take(state.data ? state : { ...app.state, ...state });
  say(`Saved as ${app.state.file ?? file}.`);
}

async function duplicate() {
  const size = kept.size.trim();
  const state = await on("duplicate", { name: kept.name.trim() || `${app.state.data.name} 2`, size: /^\d+(\.\d+)?$/.test(size) ? Number(size) : size }, "size");
  if (!state) return;
  Object.assign(kept, { name: "", size: "" });
  history.pushState(null, "", `#/${encodeURIComponent(state.id)}`);
  take(state);
  say(`${state.data.name} lies before you.`);
}
