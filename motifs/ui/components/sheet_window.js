/* What the drawing board, the layout and the wall share: elements, and a window on a sheet that is shifted and brought nearer by
   mouse, wheel and two fingers. A window is { x, y, width, height } in the sheet's own unit. Texts are set as text, never as markup. */

const SVG = "http://www.w3.org/2000/svg";

const filled = (element, attributes, text) => {
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== null) element.textContent = text;
  return element;
};
const make = (name, attributes = {}, text = null) => filled(document.createElement(name), attributes, text);
const draw = (name, attributes = {}, text = null) => filled(document.createElementNS(SVG, name), attributes, text);

/* Where on the sheet a pointer is. */
function pointOn(svg, event) {
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return { x, y };
}

/* The window brought nearer by a factor (above 1) or taken farther away, about a point or its middle; not narrower than least, nor
   wider than most. */
function nearerWindow(box, factor, { about = null, least, most }) {
  const { x, y } = about ?? { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const width = Math.min(Math.max(box.width / factor, least), most);
  const by = width / box.width;
  return { x: x - (x - box.x) * by, y: y - (y - box.y) * by, width, height: box.height * by };
}

const showWindow = (svg, { x, y, width, height }) => svg.setAttribute("viewBox", `${x} ${y} ${width} ${height}`);

/* Fingers (or the mouse) that are down on an element. pinch() says how two of them went apart and shifted since it was asked last. */
function fingersOn() {
  const down = new Map();
  let before = null;
  const spread = () => {
    const [[ax, ay], [bx, by]] = [...down.values()];
    return { gap: Math.hypot(ax - bx, ay - by) || 1, clientX: (ax + bx) / 2, clientY: (ay + by) / 2 };
  };
  return {
    set: (event) => { down.set(event.pointerId, [event.clientX, event.clientY]); if (down.size === 2) before = spread(); },
    move: (event) => { if (down.has(event.pointerId)) down.set(event.pointerId, [event.clientX, event.clientY]); },
    lift: (event) => down.delete(event.pointerId),
    count: () => down.size,
    pinch: () => {
      const now = spread();
      const told = { factor: now.gap / before.gap, dx: now.clientX - before.clientX, dy: now.clientY - before.clientY, ...now };
      before = now;
      return told;
    },
  };
}
