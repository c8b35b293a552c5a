// What the page knows, and the one way in which it changes: by asking the server.

import { get, post, Refused } from "./api.mjs";
import { tell } from "./dom.mjs";
import { followed } from "./follow.mjs";

export const app = {
  start: null, // what there is to begin with
  state: null, // the design as the server has it
  lines: null, // its lines, of revision `lines.rev`
  drawing: false, // whether lines are on their way
  chosen: null, // what she touched: {kind, n}
  such: false, // whether her words hold for all such
  slip: null, // {key, sentence, value}: what was refused, and at which field
  said: null, // a sentence of the page, at its head
  plan: null, // the job that runs: {job, words, best, bound}
  plans: [], // those that are kept, the newest first
  playing: null, // the plan that plays over the quilt
  proposals: null, // three ways to begin, or {words} while they are made
  over: null, // the save that would write over something else: {file}
  drawings: [], // the drawings that it can name
  block: null, // the block of her own that is on the table
  cell: null, // in it, the cell she touched
  place: "", // where "put it also" goes
};

let draw = () => {};
export const drawWith = (render) => {
  draw = render;
};
export const render = () => draw();

/** Tell what stands at the head of the page, for eyes and ears. */
export function say(words, alarm = false) {
  app.said = words;
  if (words) tell(words, alarm);
  render();
}

let queue = Promise.resolve();

/** One thing after the other: each asks of the design as the one before left it. */
function inTurn(work) {
  const next = queue.then(work);
  queue = next.catch(() => {});
  return next;
}

/** Take a design as the server tells it. */
export function take(state) {
  const same = app.state && state && app.state.id === state.id;
  const kept = same ? nameOf(app.chosen) : null;
  const before = app.state?.digest;
  // What is drawn already is not told again; fabrics may have other shades.
  if (state.same) state.top = { ...app.state.top, ...state.top };
  app.state = { ...state, unit: state.data.unit ?? state.top?.unit ?? "in" };
  if (!same) Object.assign(app, { lines: null, chosen: null, such: false, place: "", slip: null, cloth: null, plans: [], playing: null, proposals: null, block: null, plan: null, drawings: [] });
  else {
    if (app.chosen) app.chosen = again(app.chosen, kept);
    // What plays, or is offered, is of the quilt as it was: she sees what she changes.
    if (before !== state.digest) Object.assign(app, { playing: null, proposals: app.proposals?.list ? null : app.proposals });
  }
  if (app.block && !state.data.blocks?.[app.block]) app.block = null;
  for (const hear of taken) hear();
  render();
}
const taken = [];
export const onTaken = (hear) => taken.push(hear);

const path = (rest) => `/api/designs/${encodeURIComponent(app.state.id)}/${rest}`;

/**
 * Ask for edits. Gives whether they were done; a refusal is told at the field of `key`.
 *
 * They are made when their turn has come, on the design as it is then: `edits` may be a function of
 * it. What they are about is looked up there as well, for it may have moved since she saw it.
 */
export function ask(edits, words, key = null, value = null) {
  const seen = app.state.data;
  return inTurn(async () => {
    const { data } = app.state;
    const list = followed(Array.isArray(edits) ? edits : edits(data), seen, data);
    if (list === null) {
      say("That was changed at the same moment: look at it, and say it once more.", true);
      return false;
    }
    if (!list.length) return false;
    return change(() => post(path("edits"), { rev: app.state.rev, have: app.state.tops, edits: list, words }), key, value);
  });
}

export const undo = () => step("undo", "Undone");
export const redo = () => step("redo", "Done again");

function step(way, done) {
  return inTurn(() => {
    const words = app.state?.[way];
    if (!words) return false;
    app.said = null;
    return change(() => post(path(way), { rev: app.state.rev, have: app.state.tops }), way).then((went) => went && (say(`${done}: ${words}.`), true));
  });
}

async function change(work, key, value = null) {
  try {
    const { id } = app.state;
    const state = await work();
    if (app.state?.id !== id) return true; // she has gone on to another quilt
    app.slip = null;
    app.said = null;
    take(state);
    return true;
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    if (refused.state) {
      take(refused.state);
      say("This design was changed in another window. Here it is as it is now; what you asked for last was not done.", true);
    } else {
      const sentence = key ? atField(refused.message) : refused.message;
      app.slip = { key, sentence, value, path: refused.path };
      tell(sentence, true);
      render();
    }
    return false;
  }
}

/** At its field a sentence need not name the place in the file. */
function atField(sentence) {
  const found = sentence.search(/(?<=: )(found|expected) /);
  return found < 0 ? sentence : sentence[found].toUpperCase() + sentence.slice(found + 1);
}

/** Ask something of the design that changes no word of it, such as to save it. */
export async function on(rest, body, key = null) {
  try {
    const answer = await post(path(rest), body);
    app.slip = null;
    app.over = null;
    return answer;
  } catch (refused) {
    if (!(refused instanceof Refused)) throw refused;
    app.slip = { key, sentence: key ? atField(refused.message) : refused.message, value: null, path: refused.path };
    app.over = refused.changed ? { file: body.file ?? null } : null;
    tell(app.slip.sentence, true);
    render();
    return null;
  }
}

export const of = (rest) => get(path(rest));

/** Learn which drawings lie beside the design, where it can name them. */
export async function learnDrawings() {
  const { id } = app.state;
  const { drawings } = await of("drawings").catch(() => ({ drawings: [] }));
  if (app.state?.id !== id) return;
  app.drawings = drawings;
  render();
}
export const picture = (name) => path(`block/${encodeURIComponent(name)}.svg?rev=${app.state.rev}`);
export const text = () => path("text");

// ---- what is chosen, from one state to the next ----

export function nameOf(chosen) {
  const top = app.state?.top;
  if (!chosen || !top) return null;
  const { kind, n } = chosen;
  if (kind === "patch") return top.patches[n]?.name;
  if (kind === "seam") return top.seams[n]?.between.join(" / ");
  if (kind === "place") return top.blocks[n]?.at;
  if (kind === "piece") return `${top.pieces[n]?.applique} ${top.pieces[n]?.on}`;
  return `${n}`;
}

function again(chosen, name) {
  const top = app.state.top;
  if (!top || name === null) return null;
  if (chosen.kind === "border") return top.borders[chosen.n] ? chosen : null;
  if (chosen.kind === "loose") return null;
  const list = { patch: top.patches, seam: top.seams, place: top.blocks, piece: top.pieces }[chosen.kind];
  const is = { patch: (p) => p.name, seam: (p) => p.between.join(" / "), place: (p) => p.at, piece: (p) => `${p.applique} ${p.on}` }[chosen.kind];
  if (list[chosen.n] && is(list[chosen.n]) === name) return chosen;
  const n = list.findIndex((thing) => is(thing) === name);
  return n < 0 ? around(name) : { kind: chosen.kind, n };
}

/** Where another block came, its place: what was touched lay there. */
function around(name) {
  const { top } = app.state;
  const at = /^([A-Z]+\d+)\./.exec(name ?? "")?.[1];
  const n = top.blocks.findIndex((block) => block.at === at);
  return n < 0 ? null : { kind: "place", n };
}

/** The outlines of all such things as the chosen one, without itself. */
export function suchShapes(chosen = app.chosen) {
  const top = app.state?.top;
  if (!chosen || !top || !app.such) return [];
  const { kind, n } = chosen;
  if (kind === "patch") return top.patches.filter((p, k) => k !== n && p.such === top.patches[n].such).map((p) => p.d);
  if (kind === "seam") {
    return top.seams.filter((x, k) => k !== n && x.like === top.seams[n].like).map((x) => x.d);
  }
  if (kind === "place") return top.blocks.filter((b, k) => k !== n && b.block === top.blocks[n].block).map((b) => b.d);
  return [];
}

// ---- lines ----

let wanted = null;

/** Have the lines drawn for the design as it is; an older asking is dropped. */
export function wantLines() {
  clearTimeout(wanted);
  if (!app.state?.top) return;
  wanted = setTimeout(async () => {
    const { id, rev } = app.state;
    app.drawing = true;
    render();
    const here = () => app.state?.id === id && app.state.rev === rev;
    try {
      // What is drawn comes at once; which cure is cheapest takes longer to find.
      for (const cures of [false, true]) {
        const lines = await of(`lines?rev=${rev}&cures=${cures}`);
        if (!here()) return;
        app.lines = { ...lines, rev, tops: app.state.tops, cured: cures || !lines.loose.length };
        app.drawing = false;
        app.lineSlip = null;
        if (app.lines.cured) break;
        render();
      }
    } catch (refused) {
      if (!(refused instanceof Refused) || refused.status === 409 || app.state?.rev !== rev) return;
      app.drawing = false;
      app.lineSlip = refused.message.replace(/(^|: )[a-z_]+\[\d+\](\.[a-z_]+)?: /, "$1"); // the file is named, the key need not be
    }
    render();
  }, 60);
}
