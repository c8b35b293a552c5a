// What she takes away: the guide first, everything second, then the design itself.

import { get } from "./api.mjs";
import { app, on, render, say, take, text } from "./app.mjs";
import { h } from "./dom.mjs";
import { deed, fold, keyed, slipAt } from "./words.mjs";
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
    "aria-invalid": app.slip?.key === name ? "true" : null, on: { input: (_, node) => {
      kept[name] = node.value;
    } } });
}

function saveWords() {
  const { state } = app;
  return h("div", { key: "save" },
    keyed("as", "Save it under another name: ", field("file", "name of the file", "my-quilt.toml"), " ", deed("Save so", () => save(kept.file.trim(), "file"), { key: "save as" }), slipAt("file")),
    keyed("size", "The same quilt in another size: its longer side ", field("size", "longer side of the new quilt", state.unit === "in" ? "80 in" : "200 cm"), ", called ", field("name", "name of the new quilt", `${state.data.name} 2`), ". ", deed("Make it", duplicate, { key: "duplicate" }), slipAt("size")));
}

/** Save; without a name, where it came from. */
export async function save(file = null, key = "save", overwrite = false) {
  if (!file && !app.state.file) {
    file = `${app.state.data.name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "quilt"}.toml`;
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
  take(state.data ? state : { ...app.state, ...state });
  say(`Saved as ${app.state.file ?? file}.`);
}

async function duplicate() {
  const size = kept.size.trim();
  const state = await on("duplicate", { name: kept.name.trim() || `${app.state.data.name} 2`, size: /^\d+(\.\d+)?$/.test(size) ? Number(size) : size }, "size");
  if (!state) return;
  history.pushState(null, "", `#/${encodeURIComponent(state.id)}`);
  take(state);
  say(`${state.data.name} lies before you.`);
}
