// Edits that wait for their turn: what they are about may have moved, or be called otherwise, by then.

const alike = (a, b) => JSON.stringify(a) === JSON.stringify(b);

/** In place of edits: what they are about is no longer there. */
export const GONE = Symbol("gone");

/** Edits seen on one state of a design, as they are to be made on a newer; null where what they are about is gone. */
export function followed(edits, seen, data) {
  if (edits === GONE) return null;
  if (!edits) return [];
  if (seen === data) return edits;
  const made = edits.map((edit) => (Array.isArray(edit.path) ? { ...edit, path: pathNow(edit, seen, data) } : edit));
  return made.some((edit) => edit.path === null) ? null : made;
}

const NAMED = ["fabrics", "blocks", "threads"]; // tables of things that she names

function pathNow({ path }, seen, data) {
  const now = [];
  let [before, after] = [seen, data];
  for (const [deep, key] of path.entries()) {
    const there = before?.[key] !== undefined;
    let to = key;
    if (there && Array.isArray(before) && Array.isArray(after) && isTable(before[key])) to = itemNow(before, key, after);
    else if (there && deep === 1 && NAMED.includes(path[0]) && after?.[key] === undefined) to = nameNow(before, key, after ?? {});
    if (to === null) return null;
    now.push(to);
    [before, after] = [there ? before[key] : undefined, after?.[to]];
  }
  return now;
}

const isTable = (thing) => thing !== null && typeof thing === "object";

/** Where in a list an item stands now: by itself, or where it stood if the list is as long as it was. */
function itemNow(before, k, after) {
  if (alike(before[k], after[k])) return k;
  const ahead = before.slice(0, k).filter((item) => alike(item, before[k])).length; // of several alike, which
  const places = after.flatMap((item, n) => (alike(item, before[k]) ? [n] : []));
  if (places.length) return places[Math.min(ahead, places.length - 1)];
  return after.length === before.length ? k : null;
}

/** What a thing is called now that was called otherwise: the one name that is new, for the one that is gone. */
function nameNow(before, key, after) {
  const gone = Object.keys(before).filter((name) => after[name] === undefined);
  const fresh = Object.keys(after).filter((name) => before[name] === undefined);
  return gone.length === 1 && fresh.length === 1 ? fresh[0] : null;
}
