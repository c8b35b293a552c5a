// The words that can be changed. A sentence is made of plain words and of these; each is a real
// field, so a keyboard and a screen reader find it where an eye does.

import { app, ask, render } from "./app.mjs";
import { h } from "./dom.mjs";
import { taken, written } from "./lengths.mjs";

const keyOf = (path) => path.join("/");

/** The sentence that says what was refused, beneath its field. */
export function slipAt(key) {
  const slip = app.slip;
  if (!slip || slip.key !== key) return null;
  return h("span", { class: "slip", key: `slip ${key}`, id: `slip-${plain(key)}` }, slip.sentence);
}

const plain = (key) => key.replace(/[^a-z0-9]+/gi, "-");

/** Ties a field to the sentence that says what was refused in it. */
export function tied(key) {
  const wrong = app.slip?.key === key;
  return { "aria-invalid": wrong ? "true" : null, "aria-describedby": wrong ? `slip-${plain(key)}` : null };
}

/** A word that is typed. `put` gives the edits for what she typed; `once`: the field is empty after that. */
export function typed({ key, value, label, put, words, wide, type, hint, list, mode, once = false }) {
  const shown = app.slip?.key === key && app.slip.value !== null ? app.slip.value : value ?? "";
  const field = h("input", {
    key, id: `f-${plain(key)}`, class: "word", type: type ?? "text", value: shown, "aria-label": label, placeholder: hint ?? null,
    list: list ?? null, inputmode: mode ?? null, autocomplete: "off", spellcheck: "false", ...tied(key),
    size: Math.max(wide ?? 1, String(shown).length, (hint ?? "").length, 2),
    on: {
      input: (_, node) => node.setAttribute("size", Math.max(wide ?? 1, node.value.length, 2)),
      change: (_, node) => {
        const text = node.value;
        const asked = ask((data) => put(text, data), typeof words === "function" ? words(text) : words ?? `${label} ${text}`, key, text);
        // What was named is there now: the field is for the next.
        if (once) asked.then((done) => done && node.value === text && (node.value = ""));
      },
      keydown: (event, node) => {
        if (event.key !== "Escape") return;
        if (app.slip?.key === key) app.slip = null;
        node.value = value ?? "";
        node.fresh = node.value;
        render();
      },
    },
  });
  return [field, slipAt(key)];
}

const set = (path, value) => [{ op: "set", path, value }];

/** A length that stands in the design at a path. */
export function long(path, value, label, more = {}) {
  const { unit } = app.state;
  return typed({
    key: keyOf(path), value: written(value, unit), label, wide: 4, hint: more.hint, ...more,
    words: (text) => `${label} ${text || "left out"}`,
    put: (text, data) => (more.put ?? set)(path, taken(text, unit), data),
  });
}

/** A plain number at a path. */
export function number(path, value, label, more = {}) {
  return typed({
    key: keyOf(path), value: value ?? "", label, wide: 2, mode: "decimal", ...more,
    words: (text) => `${label} ${text || "left out"}`,
    put: (text) => set(path, plainNumber(text)),
  });
}

export function plainNumber(text) {
  const found = text.trim();
  if (found === "") return null;
  return /^[+-]?\d+(\.\d+)?$/.test(found) ? Number(found) : found;
}

/** A text at a path. */
export const worded = (path, value, label, more = {}) =>
  typed({ key: keyOf(path), value, label, wide: 6, words: (text) => `${label} ${text}`, put: (text) => set(path, text.trim() || null), ...more });

/** A word chosen out of several. Options: [value, words] or words that are the value. */
export function pick({ key, value, options, label, put, words, swatch }) {
  const all = options.map((option) => (Array.isArray(option) ? option : [option, option]));
  // What is written may be none of the words offered here: then it stands first, as it is.
  if (!all.some(([v]) => v === value)) all.unshift([value, value === null || value === undefined || value === "" ? "…" : String(value)]);
  const known = all.map(([v]) => v);
  const at = known.indexOf(value);
  const field = h("select", {
    key, id: `f-${plain(key)}`, class: "word", "aria-label": label, value: String(at), ...tied(key),
    on: {
      change: (_, node) => {
        const chosen = known[Number(node.value)];
        ask((data) => put(chosen, data), words ?? `${label}: ${all[Number(node.value)][1]}`, key);
      },
    },
  }, all.map(([, text], k) => h("option", { value: String(k) }, text)));
  return [swatch ? h("span", { class: "swatch", key: `${key} swatch`, vars: { "--cloth": swatch } }) : null, field, slipAt(key)];
}

/** A word chosen for a path. */
export const among = (path, value, options, label, more = {}) =>
  pick({ key: keyOf(path), value, options, label, put: (chosen) => set(path, chosen), ...more });

/** The colour that a fabric of the design is drawn in. */
export function colourOf(name) {
  const known = app.state.top?.fabrics?.[name]?.colour;
  const asked = app.state.data.fabrics?.[name];
  return known ?? (typeof asked === "string" ? asked : asked?.colour) ?? null;
}

export const threadNames = () => Object.keys(app.state.data.threads ?? {});

/** Whether a fabric has a name that can be pointed at: of a drawing without colours it has none. */
export const isKnown = (name) => app.state.top?.fabrics?.[name]?.known ?? true;

export const fabricNames = () => [...new Set([...Object.keys(app.state.data.fabrics ?? {}), ...Object.keys(app.state.top?.fabrics ?? {}).filter(isKnown)])];

/** One of her fabrics, with its colour before its name. `none` is the word for no fabric at all. */
export function fabric(path, value, label, { none, ...more } = {}) {
  const names = fabricNames();
  const options = none === undefined ? names : [[null, none], ...names];
  return among(path, value ?? null, options, label, { swatch: value ? colourOf(value) : null, ...more });
}

/** A yes or no in words. */
export function tick({ key, label, checked, put, words }) {
  return [h("label", { class: "tick", key: `${key} label` },
    h("input", { key, id: `f-${plain(key)}`, type: "checkbox", checked, ...tied(key), on: { change: (_, node) => {
      ask((data) => put(node.checked, data), words ?? label, key);
    } } }), label), slipAt(key)];
}

/** Something to do, in words. */
export function deed(label, act, more = {}) {
  return h("button", { type: "button", class: more.main ? "main" : "deed", key: more.key ?? label, "aria-label": more.label ?? null,
    disabled: more.off ?? false, "aria-pressed": more.pressed ?? null, on: { click: act } }, more.inside ?? label);
}

/** A word that leads somewhere: to a thing on the quilt. */
export const lead = (label, act, more = {}) =>
  h("button", { type: "button", class: "lead", key: more.key ?? `lead ${label}`, "aria-current": more.current ? "true" : null, on: { click: act } }, label);

/** A part of the text that can be folded. */
export const fold = (title, open, ...inside) =>
  h("details", { key: `fold ${title.split(":")[0]}`, open }, h("summary", {}, title), inside);

export const line = (...parts) => h("p", {}, glued(parts));
export const keyed = (key, ...parts) => h("p", { key }, glued(parts));

/** A word that can be changed keeps the comma or full stop behind it on its line, and its colour before it. */
export function glued(parts) {
  const all = parts.flat(6).filter((part) => part !== null && part !== undefined && part !== false && part !== "");
  const kept = [];
  for (let k = 0; k < all.length; k += 1) {
    const swatch = all[k].className === "swatch" && isWord(all[k + 1]) ? all[k] : null;
    const word = swatch ? all[k + 1] : all[k];
    const after = all[k + (swatch ? 2 : 1)];
    const stop = isWord(word) && typeof after === "string" ? /^[.,;:]/.exec(after)?.[0] : null;
    if (!swatch && !stop) {
      kept.push(all[k]);
      continue;
    }
    kept.push(h("span", { class: "glue", key: `glue ${word.key}` }, swatch, word, stop));
    if (swatch) k += 1;
    if (stop) {
      k += 1;
      if (after.length > 1) kept.push(after.slice(1));
    }
  }
  return kept;
}

const isWord = (part) => /^(word|deed|lead)$/.test(part?.className ?? "");
