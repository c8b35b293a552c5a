// What a choice takes, in words: the library tells the seconds of each line, and of each seam.

import { app } from "./app.mjs";

/** About how long, to a minute; below a minute and a half to five seconds. */
export const about = (seconds) => (seconds >= 90 ? `about ${Math.round(seconds / 60)} min` : `about ${Math.max(5, Math.round(seconds / 5) * 5)} s`);

const sum = (seconds) => seconds.reduce((all, one) => all + one, 0);

/** The lines that are meant, in words; null where there is none, or where they are being drawn. */
export function linesTake(meant) {
  const seconds = sum((app.lines?.lines ?? []).filter(meant).map((line) => line.seconds));
  return seconds ? about(seconds) : null;
}

/** Seams gone along in the ditch, in words; null until the lines of this top are known. */
export function seamsTake(numbers) {
  if (!app.lines || app.lines.tops !== app.state.tops) return null;
  const seconds = sum(numbers.map((n) => app.lines.seams[n] ?? 0));
  return seconds ? about(seconds) : null;
}

const PARTS = { stitching: "stitching", pivots: "turning", ends: "beginnings and ends", returns: "coming back", feet: "changing the foot", bobbins: "bobbins", threads: "changing thread", advances: "rolling on", loading: "loading", tension: "oil and tension", basting: "basting", clamps: "clamps", unloading: "taking it out", fusing: "fusing" };

/** What a part of the work took in the newest path, in words; null where it took nothing, or none is known. */
export function lastTook(part) {
  const seconds = app.plans[0]?.times?.[part];
  return seconds ? about(seconds) : null;
}

/** All that took time in the newest path. */
export const lastParts = () => Object.keys(PARTS).flatMap((part) => (lastTook(part) ? [`${PARTS[part]} ${lastTook(part)}`] : []));
