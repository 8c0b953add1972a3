/* Lines and closed outlines of points [x, y], in px of the photograph: what drawing on it needs. No document is touched. */

const MOST_HANDLES = 48;

const gap = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
const lengthOf = (line) => line.reduce((sum, point, at) => (at ? sum + gap(line[at - 1], point) : 0), 0);
const written = (points) => points.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");

function isInside(point, polygon) {
  let inside = false;
  for (let i = 0, j = polygon.length - 1; i < polygon.length; j = i, i += 1) {
    const [a, b] = [polygon[i], polygon[j]];
    if (a[1] > point[1] !== b[1] > point[1] && point[0] < ((b[0] - a[0]) * (point[1] - a[1])) / (b[1] - a[1]) + a[0]) inside = !inside;
  }
  return inside;
}

/* The place on a closed outline that is nearest to a point: edge, how far along it, distance, the place itself. */
function nearest(point, outline) {
  let best = { edge: 0, along: 0, distance: Infinity, at: outline[0] };
  outline.forEach((a, edge) => {
    const b = outline[(edge + 1) % outline.length];
    const [ux, uy] = [b[0] - a[0], b[1] - a[1]];
    const length2 = ux * ux + uy * uy || 1;
    const along = Math.min(1, Math.max(0, ((point[0] - a[0]) * ux + (point[1] - a[1]) * uy) / length2));
    const at = [a[0] + along * ux, a[1] + along * uy];
    const distance = gap(point, at);
    if (distance < best.distance) best = { edge, along, distance, at };
  });
  return best;
}

/* Corners of a closed outline strictly between two places on it, going forward. */
function between(outline, from, to) {
  const n = outline.length;
  let steps = (to.edge - from.edge + n) % n;
  if (steps === 0 && to.along < from.along) steps = n;
  return Array.from({ length: steps }, (_, step) => outline[(from.edge + 1 + step) % n]);
}

/* The outline with the shorter stretch between the ends of a line replaced by the line. */
function mended(outline, line) {
  const [from, to] = [nearest(line[0], outline), nearest(line[line.length - 1], outline)];
  const [forward, backward] = [between(outline, from, to), between(outline, to, from)];
  const lengths = [lengthOf([from.at, ...forward, to.at]), lengthOf([to.at, ...backward, from.at])];
  return lengths[0] <= lengths[1] ? [...line, ...backward] : [...line].reverse().concat(forward);
}

/* Places in a closed outline that stand for its shape: those farthest from straight lines between the others. */
function corners(outline, tolerance) {
  const far = (first, last) => {
    let [worst, at] = [tolerance, -1];
    const [a, b] = [outline[first], outline[last % outline.length]];
    const length = gap(a, b) || 1;
    for (let i = first + 1; i < last; i += 1) {
      const p = outline[i];
      const distance = gap(a, b) ? Math.abs((b[0] - a[0]) * (a[1] - p[1]) - (a[0] - p[0]) * (b[1] - a[1])) / length : gap(a, p);
      if (distance > worst) [worst, at] = [distance, i];
    }
    return at < 0 ? [] : [...far(first, at), at, ...far(at, last)];
  };
  const found = [0, ...far(0, outline.length)];
  return found.length > MOST_HANDLES ? corners(outline, tolerance * 1.4) : found;
}

/* A corner moved, and its neighbourhood with it: least at the next corners on both sides, so that fine detail stays. */
function moved(outline, handles, which, delta) {
  const n = outline.length;
  const at = handles[which];
  const result = outline.map((point) => [...point]);
  const reach = (next, step) => {
    const places = [];
    for (let i = at; i !== next; i = (i + step + n) % n) places.push(i);
    const line = [...places, next].map((i) => outline[i]);
    const whole = lengthOf(line) || 1;
    let gone = 0;
    places.forEach((i, k) => {
      if (k) gone += gap(line[k - 1], line[k]);
      if (k || step > 0) result[i] = [outline[i][0] + delta[0] * (1 - gone / whole), outline[i][1] + delta[1] * (1 - gone / whole)];
    });
  };
  reach(handles[(which + 1) % handles.length], 1);
  reach(handles[(which - 1 + handles.length) % handles.length], -1);
  return result;
}
