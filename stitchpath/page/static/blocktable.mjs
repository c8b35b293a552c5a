// A block of her own, large, where the quilt lies else: a grid of cells, or patches typed one by one.

import { app, ask, picture, render } from "./app.mjs";
import { h, s } from "./dom.mjs";
import { colourOf, deed, fabric, fabricNames, keyed, long, pick, plainNumber, typed, worded } from "./words.mjs";

const NAMES = { "": "of one fabric", "/": "cut from lower left to upper right", "\\": "cut from upper left to lower right" };

/** A cell as it is written: "sand", "sand/sky" or "sand\sky". */
function readCell(text) {
  const cut = /[/\\]/.exec(text)?.[0] ?? "";
  const [one, other] = cut ? text.split(cut) : [text, text];
  return { cut, one, other };
}

/** A cell as it lies where it is mirrored left to right, or top to bottom. */
function mirrored({ cut, one, other }, across, down) {
  const turned = cut && across !== down ? (cut === "/" ? "\\" : "/") : cut;
  return cut && across ? { cut: turned, one: other, other: one } : { cut: turned, one, other };
}

const cellText = ({ cut, one, other }) => (cut ? `${one}${cut}${other}` : one);
const cellsOf = (grid) => grid.map((row) => row.trim().split(/\s+/));

/** Rows of cells, written one beneath the other. */
function rowsOf(cells) {
  const wide = cells[0].map((_, c) => Math.max(...cells.map((row) => row[c].length)));
  return cells.map((row) => row.map((text, c) => text.padEnd(wide[c])).join(" ").trimEnd());
}

export function blockTable() {
  const name = app.block;
  const block = app.state.data.blocks[name];
  if (!block.grid) return h("div", { key: "table", id: "table", class: "table", tabindex: "-1" }, h("img", { src: picture(name), alt: `The block ${name}` }));
  const cells = cellsOf(block.grid);
  const shares = (list, n) => (list ?? Array(n).fill(1)).map((v) => `minmax(0, ${v}fr)`).join(" ");
  const size = [block.size].flat();
  return h("div", { key: "table", id: "table", class: "table", tabindex: "-1" },
    h("div", { class: "cells", role: "group", "aria-label": `The cells of ${name}`, vars: {
      "--columns": shares(block.columns, cells[0].length), "--rows": shares(block.heights, cells.length),
    }, "data-wide": size.length > 1 ? "" : null, on: { keydown: walk } }, cells.map((row, r) => row.map((text, c) => {
      const cell = readCell(text);
      const current = app.cell?.row === r && app.cell?.column === c;
      return h("button", { type: "button", key: `${r} ${c}`, id: `cell-${r}-${c}`, class: "cell", "aria-pressed": current ? "true" : "false",
        "aria-label": `row ${r + 1}, column ${c + 1}: ${cell.cut ? `${cell.one} and ${cell.other}` : cell.one}`, on: { click: () => touch(r, c) } },
      s("svg", { viewBox: "0 0 2 2", preserveAspectRatio: "none", "aria-hidden": "true" },
        s("path", { d: cell.cut === "/" ? "M0 0H2L0 2Z" : cell.cut ? "M0 0L2 2H0Z" : "M0 0H2V2H0Z", fill: colourOf(cell.one) ?? "#ccc" }),
        cell.cut ? s("path", { d: cell.cut === "/" ? "M2 0V2H0Z" : "M0 0H2V2Z", fill: colourOf(cell.other) ?? "#ccc" }) : null));
    }))));
}

function touch(row, column) {
  app.cell = { row, column };
  render();
}

function walk(event) {
  const step = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] }[event.key];
  const at = /^cell-(\d+)-(\d+)$/.exec(event.target.id);
  if (!step || !at) return;
  const next = document.getElementById(`cell-${Number(at[1]) + step[0]}-${Number(at[2]) + step[1]}`);
  if (!next) return;
  event.preventDefault();
  next.focus();
  next.click();
}

export function tableWords() {
  const name = app.block;
  const block = app.state.data.blocks[name];
  const at = (...path) => ["blocks", name, ...path];
  const size = Array.isArray(block.size) ? [long(at("size", 0), block.size[0], "width"), " by ", long(at("size", 1), block.size[1], "height")] : long(at("size"), block.size, "size of the block");
  return h("section", { key: "own block", id: "own-block", class: "note", tabindex: "-1", "aria-label": `The block ${name}` },
    h("h2", {}, `The block ${name}`),
    keyed("size", "Its finished size is ", size, "."),
    block.grid ? gridWords(name, block, at) : patchWords(block, at),
    deed("Back to the quilt", () => {
      app.block = null;
      app.cell = null;
      render();
      document.getElementById("quilt")?.focus();
    }, { key: "back to quilt", main: true }));
}

/** The block as it is when an edit is made: another may have been made since it was drawn. */
const then = (data, name) => data.blocks?.[name] ?? {};

function gridWords(name, block, at) {
  const cells = cellsOf(block.grid);
  const put = (changed) => [{ op: "set", path: at("grid"), value: rowsOf(changed) }];
  const count = (what, now, change) => typed({ key: `cells ${what}`, value: now, label: `cells ${what}`, wide: 1, mode: "numeric", words: (text) => `${name}: ${text} cells ${what}`, put: (text, data) => {
    const n = plainNumber(text);
    if (!Number.isInteger(n) || n < 1 || n > 60) return [{ op: "set", path: at(what === "across" ? "columns" : "heights"), value: text }];
    const found = then(data, name);
    return change(n, found, cellsOf(found.grid));
  } });
  const like = (list, n, filler) => [...list.slice(0, n), ...Array(Math.max(0, n - list.length)).fill(filler)];
  const across = (n, now, rows) => [...put(rows.map((row) => like(row, n, row.at(-1)))), ...(now.columns ? [{ op: "set", path: at("columns"), value: like(now.columns, n, 1) }] : [])];
  const down = (n, now, rows) => [...put(like(rows, n, rows.at(-1))), ...(now.heights ? [{ op: "set", path: at("heights"), value: like(now.heights, n, 1) }] : [])];
  const shares = (what, label) => typed({ key: at(what).join("/"), value: (block[what] ?? []).join(", "), label, hint: "all alike", wide: 6, words: () => `${name}: ${label}`,
    put: (text) => [{ op: "set", path: at(what), value: text.trim() ? text.split(/[\s,]+/).filter(Boolean).map(plainNumber) : null }] });
  return h("div", { key: "grid" },
    keyed("count", count("across", cells[0].length, across), " cells across and ", count("down", cells.length, down), " down. Widths of the columns, against each other: ", shares("columns", "widths of columns"), "; heights of the rows: ", shares("heights", "heights of rows"), "."),
    app.cell && cells[app.cell.row]?.[app.cell.column] ? cellWords(name, cells, put) : keyed("touch", "Touch a cell: then say how it is cut, and of what."));
}

function cellWords(name, cells, put) {
  const { row, column } = app.cell;
  const text = cells[row][column];
  const cell = readCell(text);
  const goes = app.cells ?? "";
  const meant = (r, c, now) => (r === row && c === column) || (goes === "row" && r === row) || (goes === "column" && c === column) || (goes === "such" && now[r][c] === now[row][column]) || goes === "all"
    || (goes === "corners" && [r, now.length - 1 - r].includes(row) && [c, now[0].length - 1 - c].includes(column));
  const change = (data, to) => {
    const now = cellsOf(then(data, name).grid);
    if (!now[row]?.[column]) return null;
    const was = readCell(now[row][column]);
    const made = { ...was, ...to(was) };
    const there = (r, c) => (goes === "corners" ? mirrored(made, c !== column, r !== row) : made);
    return put(now.map((line, r) => line.map((old, c) => (meant(r, c, now) ? cellText(there(r, c)) : old))));
  };
  const where = `row ${row + 1}, column ${column + 1}`;
  const [first, second = first] = [cell.one, fabricNames().find((n) => n !== cell.one)];
  return h("div", { key: "cell" },
    keyed("cell", `The cell in ${where} is `, pick({ key: "cell cut", value: cell.cut, options: Object.entries(NAMES), label: `the cell in ${where} is`, words: `${name}: a cell ${where}`, put: (cut, data) => change(data, (was) => ({ cut, other: cut && !was.cut ? second : was.other })) }),
      cell.cut ? ": on the left " : ": ", pick({ key: "cell one", value: cell.one, options: fabricNames(), swatch: colourOf(cell.one), label: cell.cut ? "fabric on the left" : "fabric of the cell", words: `${name}: a fabric`, put: (one, data) => change(data, (was) => ({ one, other: was.cut ? was.other : one })) }),
      cell.cut ? [", on the right ", pick({ key: "cell other", value: cell.other, options: fabricNames(), swatch: colourOf(cell.other), label: "fabric on the right", words: `${name}: a fabric`, put: (other, data) => change(data, () => ({ other })) })] : null, "."),
    keyed("goes", "The same goes for ", pick({ key: "cell goes", value: goes, options: [["", "this cell alone"], ["row", "its whole row"], ["column", "its whole column"], ["corners", "those that mirror it"], ["such", "all cells like it"], ["all", "every cell"]], label: "the same goes for", put: (to) => {
      app.cells = to;
      render();
      return null;
    } }), "."));
}

// ---- patches, typed ----

function patchWords(block, at) {
  const points = (list) => list.map(([x, y]) => `${x} ${y}`).join(", ");
  const read = (text) => text.split(",").map((pair) => pair.trim().split(/\s+/).map(plainNumber));
  return h("div", { key: "patches" },
    keyed("units", "Drawn in ", worded(at("units"), [block.units ?? block.size].flat().join(" by "), "units across and down", { put: (text) => [{ op: "set", path: at("units"), value: text.split(/\s*(?:by|,|×)\s*/).map(plainNumber) }] }), " units, down from the top left. Patches fill the block exactly. Corners are told one after the other, across and down; for a curve, the path as SVG has it: M 0 0 Q 4 2 8 0 …"),
    block.patches.map((patch, k) => keyed(`patch ${k}`, worded(at("patches", k, "name"), patch.name, `name of patch ${k + 1}`), " of ", fabric(at("patches", k, "fabric"), patch.fabric, `fabric of ${patch.name}`), ", ",
      patch.points ? "corners " : "path ", worded(at("patches", k, patch.points ? "points" : "path"), patch.points ? points(patch.points) : patch.path, `corners or path of ${patch.name}`, { wide: 24, put: (text) => Object.entries(shaped(text, read)).map(([way, value]) => ({ op: "set", path: at("patches", k, way), value })) }), ". ",
      deed("Leave it out", () => ask([{ op: "drop", path: at("patches", k) }], `no ${patch.name}`, at("patches", k, "name").join("/")), { key: `drop patch ${k}`, label: `Leave ${patch.name} out` }))),
    keyed("cut", "Cut ", pick({ key: "cut which", value: cut.which, options: block.patches.map((patch, k) => [k, patch.name]), label: "the patch that is cut", put: (to) => {
      cut.which = to;
      render();
      return null;
    } }), " in two. Corners of what stays, then of the new patch: ", typed({ key: at("new").join("/"), value: "", label: "corners of what stays, then of the new patch", hint: "0 0, 4 0, 0 4 / 4 0, 8 0, 0 8, 0 4", once: true, wide: 24, words: () => `${app.block}: another patch`, put: (text, data) => cutPatch(then(data, app.block), at, text, read) }), " (Enter)."));
}

const cut = { which: 0 };

/** What a patch is told by: corners, or a path, which begins with M. */
const shaped = (text, read) => (/^\s*m/i.test(text) ? { points: null, path: text.trim() } : { path: null, points: read(text) });

/** Part a patch: both sides are told, so that the block stays filled. */
function cutPatch(block, at, text, read) {
  const [one, other] = text.split("/").map((part) => shaped(part, read));
  const old = block.patches[cut.which] ?? block.patches[0];
  const names = new Set(block.patches.map((patch) => patch.name));
  let k = 2;
  while (names.has(`${old.name} ${k}`)) k += 1;
  const stays = Object.entries(one).map(([way, value]) => ({ op: "set", path: at("patches", block.patches.indexOf(old), way), value }));
  return [...stays, { op: "put", path: at("patches"), at: null, value: { name: `${old.name} ${k}`, fabric: old.fabric, ...(other ?? { points: [] }) } }];
}

/** Lay a block on the table: it takes the place of whatever stood there. */
export function putOnTable(name, cell = null) {
  Object.assign(app, { block: name, cell, playing: null, proposals: null });
}

/** After a new block is made, it lies on the table. */
export function bringNew() {
  if (app.wantBlock && app.state.data.blocks?.[app.wantBlock]) {
    putOnTable(app.wantBlock, { row: 0, column: 0 });
  }
  app.wantBlock = null;
}

