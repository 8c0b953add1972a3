/* The dry layout of a vessel. Lengths in mm of the layout, x along the girth, y down. Nothing is decided here: what a person laid is
   sent, and the program draws again what the catalogue then says. Everything from the catalogue is set as text, never as markup. */

const SNAP_MM = 7;
const SNAP_DEG = 25;
const NEAREST_MM = 30, FARTHEST_MM = 6000;
const HELP = "Drag a sherd to move it, the ground to move the view; wheel or + and - to zoom. Keys on a sherd: arrows 0.5 mm (with Shift 5), "
  + "[ and ] turn by 1° (with Shift 10), S to the nearest proposed join, Enter lays it, L locks or unlocks, Esc puts it back.";

const turned = (degrees) => ((((degrees + 180) % 360) + 360) % 360) - 180;

function bounds(sherds) {
  const xs = [], ys = [];
  for (const one of sherds) {
    const reach = Math.max(...one.points.map(([x, y]) => Math.hypot(x, y)), 10);
    xs.push(one.x - reach, one.x + reach);
    ys.push(one.y - reach, one.y + reach);
  }
  if (!xs.length) return { x: 0, y: 0, width: 200, height: 120 };
  const x = Math.min(...xs) - 10, y = Math.min(...ys) - 10;
  return { x, y, width: Math.max(...xs) + 10 - x, height: Math.max(...ys) + 10 - y };
}

function place(table, one) {
  one.element.setAttribute("transform", `translate(${one.x} ${one.y}) rotate(${one.turn})`);
  one.label.setAttribute("transform", `rotate(${-one.turn})`);
  const isMoved = one.x !== one.from.x || one.y !== one.from.y || one.turn !== one.from.turn;
  one.element.classList.toggle("moved", isMoved);
  table.hint.textContent = isMoved
    ? `${one.sherd}: ${one.x.toFixed(1)}, ${one.y.toFixed(1)} mm, ${turned(one.turn).toFixed(1)}°. Enter or let go to lay it there.` : HELP;
}

function snapped(table, one, always) {
  const near = table.data.snaps
    .filter((snap) => snap.sherd === one.sherd)
    .map((snap) => ({ snap, away: Math.hypot(snap.x - one.x, snap.y - one.y), off: Math.abs(turned(snap.turn - one.turn)) }))
    .filter(({ away, off }) => always || (away < SNAP_MM && off < SNAP_DEG))
    .sort((a, b) => a.away - b.away)[0];
  if (near) Object.assign(one, { x: near.snap.x, y: near.snap.y, turn: near.snap.turn });
  return near ? near.snap.beside : null;
}

function lay(table, one) {
  const round = (value) => Math.round(value * 100) / 100;
  if (one.x === one.from.x && one.y === one.from.y && one.turn === one.from.turn) return;
  table.send("moved", { sherd: one.sherd, x: round(one.x), y: round(one.y), turn: round(turned(one.turn)) });
}

function choose(table, one) {
  table.data.chosen = one.sherd;
  markChosen(table);
  table.send("picked", one.sherd);
}

function markChosen(table) {
  for (const one of table.sherds) {
    one.element.classList.toggle("chosen", one.sherd === table.data.chosen);
    one.element.setAttribute("aria-pressed", String(one.sherd === table.data.chosen));
  }
}

function view(table) {
  showWindow(table.svg, table.view);
  const px = table.svg.clientWidth || 800;
  table.svg.style.setProperty("--label", `${(11 * table.view.width) / px}px`);
}

function nearer(table, factor, about = null) {
  table.view = nearerWindow(table.view, factor, { about, least: NEAREST_MM, most: FARTHEST_MM });
  view(table);
}

function shift(table, dx, dy) {
  table.view.x -= dx;
  table.view.y -= dy;
  view(table);
}

/* Two fingers bring the sheet nearer and shift it; a sherd that one of them had taken stays where it was. */
function pinch(table) {
  const now = table.fingers.pinch();
  const px = table.svg.clientWidth || 800;
  nearer(table, now.factor, pointOn(table.svg, now));
  shift(table, (now.dx * table.view.width) / px, (now.dy * table.view.width) / px);
}

function drag(table, one) {
  return (event) => {
    if (event.button !== 0) return;
    event.preventDefault();
    event.stopPropagation();
    table.fingers.set(event);
    const target = table.svg;
    target.setPointerCapture(event.pointerId);
    if (table.fingers.count() === 2) {
      table.held?.();
      return;
    }
    const start = pointOn(table.svg, event), from = one ? { x: one.x, y: one.y } : null;
    let hasMoved = false, isHeld = false;
    table.held = () => {
      isHeld = true;
      if (one) { Object.assign(one, from); place(table, one); }
    };
    target.onpointermove = (now) => {
      table.fingers.move(now);
      if (table.fingers.count() === 2) {
        pinch(table);
        return;
      }
      if (isHeld) return;
      const here = pointOn(table.svg, now);
      if (!hasMoved && Math.hypot(now.clientX - event.clientX, now.clientY - event.clientY) < 4) return;
      hasMoved = true;
      if (one) {
        one.x = from.x + here.x - start.x;
        one.y = from.y + here.y - start.y;
        place(table, one);
      } else shift(table, here.x - start.x, here.y - start.y);
    };
    const end = (now) => {
      table.fingers.lift(now);
      if (table.fingers.count() > 0) return;
      target.onpointermove = target.onpointerup = target.onpointercancel = null;
      if (!one || isHeld) return;
      one.element.focus();
      if (!hasMoved) choose(table, one);
      else {
        snapped(table, one, false);
        place(table, one);
        lay(table, one);
      }
    };
    target.onpointerup = end;
    target.onpointercancel = end;
  };
}

function keys(table, one) {
  return (event) => {
    const far = event.shiftKey;
    const move = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (move) {
      one.x += move[0] * (far ? 5 : 0.5);
      one.y += move[1] * (far ? 5 : 0.5);
    } else if ("[{".includes(event.key)) one.turn -= far ? 10 : 1;
    else if ("]}".includes(event.key)) one.turn += far ? 10 : 1;
    else if (event.key.toLowerCase() === "s") snapped(table, one, true);
    else if (event.key === "Enter") lay(table, one);
    else if (event.key === " ") choose(table, one);
    else if (event.key.toLowerCase() === "l") table.send("locked", one.sherd);
    else if (event.key === "Escape") Object.assign(one, one.from);
    else if (event.key === "+" || event.key === "-") nearer(table, event.key === "+" ? 1.25 : 0.8);
    else return;
    event.preventDefault();
    place(table, one);
  };
}

function sherdOf(table, given) {
  const one = { ...given, from: { x: given.x, y: given.y, turn: given.turn } };
  one.element = draw("g", { class: `sherd ${given.by}`, tabindex: "0", role: "button", "aria-label": given.alt, "data-sherd": given.sherd });
  if (given.locked) one.element.classList.add("locked");
  if (given.url) {
    const wide = draw("g", { transform: `rotate(${-given.turn}) scale(${given.widened} 1) rotate(${given.turn})` });
    wide.append(draw("image", {
      href: given.url, x: given.dx - given.width / 2, y: given.dy - given.height / 2, width: given.width, height: given.height,
      preserveAspectRatio: "none",
    }));
    one.element.append(wide);
  }
  one.element.append(draw("polygon", { points: given.points.map((p) => p.join(",")).join(" ") }));
  one.label = draw("g");
  const words = [given.step === null ? null : `${given.step}`, given.locked ? "locked" : null].filter(Boolean).join(" · ");
  one.label.append(draw("text", { class: "step", "text-anchor": "middle" }, words));
  one.label.append(draw("text", { "text-anchor": "middle", dy: "1.1em" }, given.sherd));
  one.element.append(one.label);
  one.element.onpointerdown = drag(table, one);
  one.element.onkeydown = keys(table, one);
  return one;
}

function grid() {
  const defs = draw("defs");
  const cell = draw("pattern", { id: "cm", width: 10, height: 10, patternUnits: "userSpaceOnUse" });
  cell.append(draw("path", { d: "M10 0H0V10", class: "line" }));
  const dm = draw("pattern", { id: "dm", width: 100, height: 100, patternUnits: "userSpaceOnUse" });
  dm.append(draw("rect", { width: 100, height: 100, fill: "url(#cm)" }), draw("path", { d: "M100 0H0V100", class: "strong" }));
  defs.append(cell, dm);
  return defs;
}

function toolbar(table) {
  const bar = make("div", { class: "bar" });
  for (const [label, act] of [
    ["Nearer", () => nearer(table, 1.33)],
    ["Farther", () => nearer(table, 0.75)],
    ["All of it", () => { table.view = fitted(table); view(table); }],
  ]) {
    const button = make("button", { type: "button" }, label);
    button.onclick = act;
    bar.append(button);
  }
  bar.append(make("span", { class: "unit" }, "grid: 1 cm, strong lines 10 cm"));
  return bar;
}

function fitted(table) {
  const box = bounds(table.sherds);
  const ratio = (table.svg.clientHeight || 520) / (table.svg.clientWidth || 800);
  const width = Math.max(box.width, box.height / ratio);
  return { x: box.x - (width - box.width) / 2, y: box.y - (width * ratio - box.height) / 2, width, height: width * ratio };
}

function build(root, data, send) {
  root.replaceChildren();
  const table = { data, send, sherds: [], fingers: fingersOn(), held: null };
  table.svg = draw("svg", { role: "group", "aria-label": data.label });
  table.hint = make("p", { class: "hint", "aria-live": "polite" }, HELP);
  table.svg.append(grid(), draw("rect", { x: -20000, y: -20000, width: 40000, height: 40000, fill: "url(#dm)" }));
  table.sherds = data.sherds.map((given) => sherdOf(table, given));
  for (const one of table.sherds) {
    table.svg.append(one.element);
    place(table, one);
  }
  table.svg.onpointerdown = drag(table, null);
  table.svg.onwheel = (event) => { event.preventDefault(); nearer(table, event.deltaY > 0 ? 0.89 : 1.12, pointOn(table.svg, event)); };
  root.append(toolbar(table), table.svg, table.hint);
  table.view = fitted(table);
  view(table);
  return table;
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".layout");
  const drawn = JSON.stringify([data.label, data.sherds, data.snaps]);
  const sameVessel = root.table && root.table.data.label === data.label;
  if (root.dataset.drawn !== drawn) {
    const before = sameVessel ? root.table.view : null;
    root.table = build(root, data, setTriggerValue);
    if (before) { root.table.view = before; view(root.table); }
    root.dataset.drawn = drawn;
  }
  root.table.data.chosen = data.chosen;
  markChosen(root.table);
}
