// Lengths as she writes them. The library reads them; here they are only shown while she drags.

export const MM = { in: 25.4, cm: 10, mm: 1 };
const FINEST = { in: 25.4 / 16, cm: 1, mm: 1 };

/** To what a drag is rounded, mm: a sixteenth of an inch, or a millimetre. */
export const rounded = (mm, unit) => Math.round(mm / FINEST[unit]) * FINEST[unit];

/** Say a length in her unit: inches in sixteenths, as on her ruler. */
export function told(mm, unit) {
  if (unit !== "in") return `${Number((mm / MM[unit]).toFixed(unit === "cm" ? 1 : 0))} ${unit}`;
  const all = Math.round((Math.abs(mm) / 25.4) * 16);
  const whole = Math.floor(all / 16);
  let above = all % 16, below = 16;
  while (above && above % 2 === 0) [above, below] = [above / 2, below / 2];
  const sign = mm < 0 && all ? "−" : "";
  const part = above ? `${above}/${below}` : "";
  return `${sign}${[whole || !part ? whole : "", part].filter((p) => p !== "").join(" ")} in`;
}

/** Show a length as it is written: a plain number gets the design's unit. */
export const written = (value, unit) => (typeof value === "number" ? `${value} ${unit}` : value ?? "");

/** Read a field: what was a plain number stays one where she kept to the unit. */
export function taken(text, unit) {
  const plain = text.trim();
  if (plain === "") return null;
  const found = /^([+-]?\d+(?:\.\d+)?)\s*(in|cm|mm)?$/.exec(plain);
  return found && (found[2] === undefined || found[2] === unit) ? Number(found[1]) : plain;
}
