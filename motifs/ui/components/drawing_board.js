/* A photograph on which outlines are chosen and drawn. Coordinates are px of the oriented photograph, pixel centres at whole
   numbers. Nothing is changed here: what a person drew is sent, and the program draws again what the catalogue then says.
   Everything that comes from the catalogue is set as text, never as markup. */

const UNFINISHED = "Not finished: end the line where it began, or at the outline to mend a stretch. Or go on drawing; Esc leaves it.";
const NEAREST = 24; // the photograph can be brought so many times nearer

const TOOLS = [
  ["choose", "Choose", "1", "Click outlines to choose them, drag to move the photograph."],
  ["redraw", "Redraw", "2", "Drag a corner; or draw: a closed round is the new outline, a line from outline to outline mends that stretch."],
  ["split", "Split", "3", "Draw a line across a sherd, from beside it to beside it."],
  ["add", "Add", "4", "Draw around a sherd that was missed."],
  ["rim", "Rim up", "5", "Draw an arrow from the middle of a sherd to its rim."],
];

/* ---- what is being drawn ---- */

const isClosed = (line, unit) => line.length > 3 && gap(line[0], line[line.length - 1]) < Math.max(14 * unit, 0.08 * lengthOf(line));
const one = (board) => (board.chosen.size === 1 ? [...board.chosen][0] : null);
const full = (board) => (board.data.full && board.data.full.sherd === one(board) ? board.data.full.points : null);

function sherdUnder(board, point) {
  const found = board.data.outlines.find((outline) => isInside(point, outline.polygon));
  return found ? found.sherd : one(board);
}

/* What would be sent if it were accepted now; null where nothing can be. */
function drawn(board) {
  const { tool, line, unit } = board;
  if (tool === "add") return line.length > 2 ? { tool, sherd: null, points: line } : null;
  if (tool === "split" && line.length > 1) return { tool, sherd: sherdUnder(board, line[Math.floor(line.length / 2)]), points: line };
  if (tool === "rim" && line.length > 1) return { tool, sherd: sherdUnder(board, line[0]), points: [line[0], line[line.length - 1]] };
  if (tool !== "redraw" || !full(board)) return null;
  const outline = board.edited ?? full(board);
  if (line.length < 2) return board.edited ? { tool, sherd: one(board), points: outline } : null;
  const isRound = isClosed(line, unit);
  const near = (board.isFreehand ? 40 : 16) * unit;
  const isStretch = !isRound && [line[0], line[line.length - 1]].every((end) => nearest(end, outline).distance < near);
  if (isStretch) return { tool, sherd: one(board), points: mended(outline, line) };
  /* A hand that draws a whole outline comes back to where it began; whoever sets corners need not. */
  return line.length > 2 && (isRound || !board.isFreehand) ? { tool, sherd: one(board), points: line } : null;
}

function leave(board) {
  board.line = [];
  board.isFreehand = false;
  board.edited = null;
  drawPending(board);
}

function accept(board) {
  const what = drawn(board);
  if (!what) {
    if (board.line.length) board.hint.textContent = UNFINISHED;
    return;
  }
  if (what.tool !== "add" && !what.sherd) {
    board.hint.textContent = "No sherd lies there: choose one first, or draw over one.";
    return;
  }
  board.send("drawn", { ...what, points: what.points.map((point) => point.map((value) => Math.round(value * 100) / 100)) });
}

/* ---- what is shown ---- */

function outlineOf(board, outline) {
  const classes = ["sherd", outline.look ? "look" : "", outline.is_by_hand ? "hand" : ""].join(" ").trim();
  const group = draw("g", { class: classes, tabindex: "0", role: "button", "aria-label": outline.alt, "data-sherd": outline.sherd });
  group.append(
    draw("title", {}, outline.alt),
    draw("polygon", { class: "halo", points: written(outline.polygon) }),
    draw("polygon", { class: "line", points: written(outline.polygon) }),
  );
  if (outline.arrow) group.append(draw("path", { class: "halo", d: arrowPath(outline.arrow) }), draw("path", { class: "arrow", d: arrowPath(outline.arrow) }));
  group.append(draw("text", { x: outline.at[0], y: outline.at[1] }, outline.label));
  const toggle = () => {
    board.chosen.has(outline.sherd) ? board.chosen.delete(outline.sherd) : board.chosen.add(outline.sherd);
    board.send("chosen", [...board.chosen]);
  };
  group.onclick = () => {
    if (!board.wasDragged && (board.tool === "choose" || (board.tool === "redraw" && !board.line.length && !board.chosen.has(outline.sherd)))) {
      if (board.tool === "redraw") board.chosen.clear();
      toggle();
    }
  };
  group.onkeydown = (event) => {
    if ((event.key === "Enter" && !drawn(board)) || event.key === " ") {
      event.preventDefault();
      event.stopPropagation();
      toggle();
    }
  };
  return group;
}

function arrowPath([x1, y1, x2, y2]) {
  const [dx, dy] = [(x2 - x1) * 0.3, (y2 - y1) * 0.3];
  const wing = (turn) => `M${x2},${y2}L${x2 - dx + turn * dy * 0.6},${y2 - dy - turn * dx * 0.6}`;
  return `M${x1},${y1}L${x2},${y2}${wing(1)}${wing(-1)}`;
}

function drawPending(board) {
  const { pending, line, tool } = board;
  pending.replaceChildren();
  const what = drawn(board);
  const isRound = tool === "add" || tool === "redraw";
  if (what && isRound) pending.append(draw("polygon", { class: "result", points: written(what.points) }));
  if (line.length && tool === "rim") pending.append(draw("path", { class: "stroke", d: arrowPath([...line[0], ...line[line.length - 1]]) }));
  else if (line.length) pending.append(draw("polyline", { class: "stroke", points: written(line) }));
  if (line.length && tool !== "rim") pending.append(draw("circle", { class: "dot", cx: line[0][0], cy: line[0][1], r: 4 * board.unit }));
  if (tool === "redraw" && !line.length && full(board)) pending.append(...handlesOf(board));
  for (const button of board.root.querySelectorAll("[data-needs-line]")) button.disabled = !what && !line.length;
  board.root.querySelector("[data-ask=accept]").disabled = !what;
  board.root.classList.toggle("drawing", tool !== "choose");
}

function handlesOf(board) {
  const outline = board.edited ?? full(board);
  const handles = corners(outline, Math.max(1, 0.006 * lengthOf(outline)));
  return handles.map((place, which) => {
    const dot = draw("circle", { class: "handle", cx: outline[place][0], cy: outline[place][1], r: 7 * board.unit, "aria-label": `corner ${which + 1} of ${handles.length}` });
    dot.onpointerdown = (event) => {
      if (event.button) return;
      event.stopPropagation();
      board.root.focus({ preventScroll: true });
      board.svg.setPointerCapture(event.pointerId);
      board.drag = { kind: "handle", from: at(board, event), outline, handles, which };
    };
    return dot;
  });
}

/* ---- the window on the photograph ---- */

function look(board, view) {
  const { width_px: width, height_px: height } = board.data;
  const w = Math.min(width, Math.max(width / NEAREST, view.w));
  const h = (w * height) / width;
  const within = (value, size, whole) => Math.min(whole - size - 0.5, Math.max(-0.5, value));
  board.view = { x: within(view.x, w, width), y: within(view.y, h, height), w, h };
  showWindow(board.svg, { x: board.view.x, y: board.view.y, width: w, height: h });
  const shown = board.svg.getBoundingClientRect();
  board.unit = shown.width ? Math.max(w / shown.width, h / (shown.height || 1)) : 1;
  board.svg.style.setProperty("--u", `${board.unit}px`);
  const detail = board.svg.querySelector("image.detail");
  if (detail && !detail.hasAttribute("href") && w < width * 0.7) detail.setAttribute("href", board.data.urls.detail);
  drawPending(board);
}

function nearer(board, factor, about = null) {
  const { x, y, w, h } = board.view;
  const width = board.data.width_px;
  const found = nearerWindow(
    { x, y, width: w, height: h }, factor, { about: about && { x: about[0], y: about[1] }, least: width / NEAREST, most: width },
  );
  look(board, { x: found.x, y: found.y, w: found.width });
}

const whole = (board) => look(board, { x: -0.5, y: -0.5, w: board.data.width_px });

function goTo(board, sherd) {
  const outline = board.data.outlines.find((each) => each.sherd === sherd);
  if (!outline) return;
  const xs = outline.polygon.map((point) => point[0]);
  const ys = outline.polygon.map((point) => point[1]);
  const [x, y, wide, high] = [Math.min(...xs), Math.min(...ys), Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
  const w = 2.2 * Math.max(wide, (high * board.data.width_px) / board.data.height_px);
  look(board, { x: x + wide / 2 - w / 2, y: y + high / 2 - (w * board.data.height_px) / board.data.width_px / 2, w });
}

function at(board, event) {
  const point = pointOn(board.svg, event);
  const within = (value, size) => Math.min(size - 0.5, Math.max(-0.5, value));
  return [within(point.x, board.data.width_px), within(point.y, board.data.height_px)];
}

/* ---- hands ---- */

function takeHands(board) {
  const { svg } = board;
  const fingers = fingersOn();
  svg.onpointerdown = (event) => {
    board.root.focus({ preventScroll: true });
    fingers.set(event);
    board.wasDragged = false;
    if (fingers.count() === 2) {
      if (board.drag?.kind === "line") board.line.length = board.drag.had;
      board.drag = { kind: "pinch" };
      return;
    }
    const isMove = board.tool === "choose" || event.button === 1 || board.isSpaceDown;
    if (event.button === 2 || (event.button === 1 && !isMove)) return;
    if (isMove) {
      if (event.button === 1) event.preventDefault();
      board.drag = { kind: "move", from: [event.clientX, event.clientY], view: board.view };
      return;
    }
    if (board.tool === "redraw" && !full(board)) return;
    svg.setPointerCapture(event.pointerId);
    if (board.tool === "rim") board.line = [];
    board.drag = { kind: "line", had: board.line.length };
    board.line.push(at(board, event));
    drawPending(board);
  };
  svg.onpointermove = (event) => {
    fingers.move(event);
    const { drag } = board;
    if (!drag) return;
    if (drag.kind === "pinch" && fingers.count() === 2) {
      const now = fingers.pinch();
      nearer(board, now.factor, at(board, now));
      look(board, { ...board.view, x: board.view.x - now.dx * board.unit, y: board.view.y - now.dy * board.unit });
    } else if (drag.kind === "move") {
      const [dx, dy] = [event.clientX - drag.from[0], event.clientY - drag.from[1]];
      if (!board.wasDragged && Math.hypot(dx, dy) < 5) return;
      if (!board.wasDragged) svg.setPointerCapture(event.pointerId);
      board.wasDragged = true;
      look(board, { ...drag.view, x: drag.view.x - dx * board.unit, y: drag.view.y - dy * board.unit });
    } else if (drag.kind === "line") {
      const here = at(board, event);
      if (board.tool === "rim") board.line = [board.line[0], here];
      else if (gap(here, board.line[board.line.length - 1]) > 2.5 * board.unit) {
        board.line.push(here);
        board.isFreehand = true;
      }
      drawPending(board);
    } else if (drag.kind === "handle") {
      const here = at(board, event);
      board.edited = moved(drag.outline, drag.handles, drag.which, [here[0] - drag.from[0], here[1] - drag.from[1]]);
      drawPending(board);
    }
  };
  const letGo = (event) => {
    fingers.lift(event);
    if (board.drag?.kind === "line" && board.isFreehand && !drawn(board)) board.hint.textContent = UNFINISHED;
    if (board.drag?.kind !== "pinch" || fingers.count() === 0) board.drag = null;
  };
  svg.onpointerup = letGo;
  svg.onpointercancel = letGo;
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey && !board.root.matches(":focus-within")) return;
    event.preventDefault();
    nearer(board, event.deltaY < 0 ? 1.25 : 0.8, at(board, event));
  }, { passive: false });
}

function takeKeys(board) {
  const steps = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.12], ArrowDown: [0, 0.12] };
  board.root.onkeyup = (event) => { if (event.key === " ") board.isSpaceDown = false; };
  board.root.onkeydown = (event) => {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const isLineOpen = board.line.length > 0 || board.edited;
    const acts = {
      Escape: () => leave(board),
      Enter: () => accept(board),
      Backspace: () => { board.line.pop(); drawPending(board); },
      Delete: () => board.send("asked", "drop"),
      z: () => (isLineOpen ? leave(board) : board.send("asked", "undo")),
      y: () => board.send("asked", "redo"),
      "+": () => nearer(board, 1.4),
      "-": () => nearer(board, 1 / 1.4),
      0: () => whole(board),
      " ": () => { board.isSpaceDown = true; },
    };
    for (const [tool, , number] of TOOLS) acts[number] = () => take(board, tool);
    for (const [arrow, [x, y]] of Object.entries(steps)) {
      acts[arrow] = () => look(board, { ...board.view, x: board.view.x + x * board.view.w, y: board.view.y + y * board.view.h });
    }
    const isButton = event.target.tagName === "BUTTON" && (key === "Enter" || key === " ");
    if (!acts[key] || isButton || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    acts[key]();
  };
}

function take(board, tool) {
  board.tool = tool;
  leave(board);
  for (const button of board.root.querySelectorAll("[data-tool]")) button.setAttribute("aria-pressed", String(button.dataset.tool === tool));
  const needs = tool === "redraw" && !full(board) ? "Choose one outline: click it. " : "";
  board.hint.textContent = needs + TOOLS.find((each) => each[0] === tool)[3] + (tool === "choose" ? "" : " Clicks set corners one by one.");
}

/* ---- putting it together ---- */

function toolbar(board) {
  const bar = make("div", { class: "bar", role: "toolbar", "aria-label": "Tools for outlines" });
  const tools = make("div", { class: "group" });
  for (const [tool, label, key] of TOOLS) {
    const button = make("button", { type: "button", "data-tool": tool, title: `${label} (key ${key})` }, label);
    button.onclick = () => take(board, tool);
    tools.append(button);
  }
  const press = (label, title, ask, act, needsLine = false) => {
    const button = make("button", { type: "button", title, "data-ask": ask }, label);
    if (needsLine) button.setAttribute("data-needs-line", "");
    button.onclick = act;
    return button;
  };
  const line = make("div", { class: "group" });
  line.append(
    press("Accept", "Take what is drawn (Enter)", "accept", () => accept(board), true),
    press("Leave", "Forget what is drawn (Esc)", "leave", () => leave(board), true),
  );
  const window_ = make("div", { class: "group" });
  window_.append(
    press("Nearer", "Bring the photograph nearer (+)", "nearer", () => nearer(board, 1.4)),
    press("Farther", "Take it farther away (-)", "farther", () => nearer(board, 1 / 1.4)),
    press("Whole", "Show the whole photograph (0)", "whole", () => whole(board)),
  );
  bar.append(tools, line, window_);
  return bar;
}

function build(root) {
  const board = { root, tool: "choose", line: [], isFreehand: false, edited: null, chosen: new Set(), unit: 1, view: null, drag: null, wasDragged: false, isSpaceDown: false };
  root.board = board;
  root.tabIndex = 0;
  root.setAttribute("role", "group");
  board.hint = make("p", { class: "hint", "aria-live": "polite" });
  board.svg = draw("svg", { role: "group" });
  board.sheet = draw("g");
  board.pending = draw("g", { class: "pending" });
  board.svg.append(board.sheet, board.pending);
  root.append(toolbar(board), board.hint, board.svg);
  takeHands(board);
  takeKeys(board);
  new ResizeObserver(() => board.view && look(board, board.view)).observe(board.svg);
  return board;
}

function fill(board, data) {
  const { width_px: width, height_px: height } = data;
  const frame = { x: "-0.5", y: "-0.5", width, height, preserveAspectRatio: "none" };
  board.svg.style.aspectRatio = `${width} / ${height}`;
  board.svg.setAttribute("aria-label", data.alt);
  board.sheet.replaceChildren(draw("image", { ...frame, href: data.urls.small }), draw("image", { ...frame, href: data.urls.screen }));
  if (data.urls.detail !== data.urls.screen) board.sheet.append(draw("image", { ...frame, class: "detail" }));
  for (const outline of data.outlines) board.sheet.append(outlineOf(board, outline));
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".board");
  const board = root.board ?? build(root);
  const isOtherPhoto = board.data?.urls.screen !== data.urls.screen;
  const isChanged = isOtherPhoto || JSON.stringify(board.data?.outlines) !== JSON.stringify(data.outlines);
  if (board.data?.full?.sherd !== data.full?.sherd) board.edited = null;
  board.data = data;
  board.send = setTriggerValue;
  board.chosen = new Set(data.chosen);
  root.setAttribute("aria-label", data.alt);
  if (isChanged) {
    fill(board, data);
    board.line = [];
    board.isFreehand = false;
    board.edited = null;
  }
  if (isOtherPhoto) {
    whole(board);
    take(board, board.tool);
  }
  if (data.go_to && (isOtherPhoto || board.wentTo !== data.go_to)) goTo(board, data.go_to);
  board.wentTo = data.go_to;
  look(board, board.view);
  for (const group of root.querySelectorAll("g.sherd")) {
    const isChosen = board.chosen.has(group.dataset.sherd);
    group.classList.toggle("chosen", isChosen);
    group.setAttribute("aria-pressed", String(isChosen));
  }
  if (board.tool === "redraw" && !board.line.length && !board.edited) take(board, "redraw");
}
