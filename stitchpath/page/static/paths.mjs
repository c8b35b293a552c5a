// Where things lie on the quilt: read from path data, in mm, and found again by a point.

const NUMBERS = /[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?/gi;

/** The box round path data of absolute commands: x0, y0, x1, y1. */
export function boxOf(d) {
  const n = d.match(NUMBERS) ?? [];
  let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
  for (let k = 0; k + 1 < n.length; k += 2) {
    const x = Number(n[k]), y = Number(n[k + 1]);
    if (x < x0) x0 = x;
    if (x > x1) x1 = x;
    if (y < y0) y0 = y;
    if (y > y1) y1 = y;
  }
  return [x0, y0, x1, y1];
}

/** The points of path data, one list for each part of it. */
export function pointsOf(d) {
  return d.split(/(?=[Mm])/).filter((part) => part.trim()).map((part) => {
    const n = (part.match(NUMBERS) ?? []).map(Number);
    const points = [];
    for (let k = 0; k + 1 < n.length; k += 2) points.push([n[k], n[k + 1]]);
    if (/[zZ]\s*$/.test(part) && points.length) points.push(points[0]);
    return points;
  });
}

/** How far a point is from lines, mm. */
export function away(lines, x, y) {
  let least = Infinity;
  for (const points of lines) {
    for (let k = 1; k < points.length; k += 1) {
      const [ax, ay] = points[k - 1], [bx, by] = points[k];
      const dx = bx - ax, dy = by - ay, square = dx * dx + dy * dy;
      const t = square ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / square)) : 0;
      least = Math.min(least, Math.hypot(x - ax - t * dx, y - ay - t * dy));
    }
  }
  return least;
}

/** The middle of a line, and the way it goes there. */
export function middle(points) {
  let whole = 0;
  for (let k = 1; k < points.length; k += 1) whole += Math.hypot(points[k][0] - points[k - 1][0], points[k][1] - points[k - 1][1]);
  let left = whole / 2;
  for (let k = 1; k < points.length; k += 1) {
    const [ax, ay] = points[k - 1], [bx, by] = points[k];
    const long = Math.hypot(bx - ax, by - ay);
    if (long >= left && long > 0) {
      const t = left / long;
      return { x: ax + t * (bx - ax), y: ay + t * (by - ay), along: [(bx - ax) / long, (by - ay) / long], whole };
    }
    left -= long;
  }
  return null;
}

/** Things by where they lie, so that a point asks only those near it. */
export class Near {
  constructor(boxes, [x0, y0, x1, y1]) {
    this.side = Math.max(1, Math.min(64, Math.ceil(Math.sqrt(boxes.length))));
    this.x = x0;
    this.y = y0;
    this.wide = Math.max(x1 - x0, 1) / this.side;
    this.high = Math.max(y1 - y0, 1) / this.side;
    this.cells = new Map();
    boxes.forEach((box, n) => {
      for (const cell of this.over(box)) {
        if (!this.cells.has(cell)) this.cells.set(cell, []);
        this.cells.get(cell).push(n);
      }
    });
  }

  over([x0, y0, x1, y1]) {
    const clamp = (v) => Math.max(0, Math.min(this.side - 1, v));
    const found = [];
    for (let i = clamp(Math.floor((x0 - this.x) / this.wide)); i <= clamp(Math.floor((x1 - this.x) / this.wide)); i += 1) {
      for (let j = clamp(Math.floor((y0 - this.y) / this.high)); j <= clamp(Math.floor((y1 - this.y) / this.high)); j += 1) {
        found.push(j * this.side + i);
      }
    }
    return found;
  }

  within(x, y, reach = 0) {
    const found = new Set();
    for (const cell of this.over([x - reach, y - reach, x + reach, y + reach])) for (const n of this.cells.get(cell) ?? []) found.add(n);
    return [...found];
  }
}
