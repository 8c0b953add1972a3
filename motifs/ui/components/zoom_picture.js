/* A drawing that is moved by dragging and enlarged by the wheel, two fingers, keys or buttons. */

const STEP = 1.25;
const MOST = 12;

const make = (name, attributes = {}, text = null) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== null) element.textContent = text;
  return element;
};

function build(root) {
  const bar = make("div", { class: "bar" });
  const pane = make("div", { class: "pane", tabindex: "0", role: "group", "aria-label": "drawing; plus and minus enlarge, arrows move, 0 shows all" });
  const image = make("img", { draggable: "false" });
  pane.append(image);
  root.append(bar, pane, make("p"));
  return { bar, pane, image, caption: root.querySelector("p") };
}

/* Size and place of the picture in the pane: zoom 1 shows all of it. */
function moving(pane, image, ratio) {
  const state = { zoom: 1, x: 0, y: 0 };
  const fit = () => {
    const [wide, high] = [pane.clientWidth, pane.clientHeight];
    return wide / high > ratio ? [high * ratio, high] : [wide, wide / ratio];
  };
  const lay = () => {
    const [wide, high] = fit().map((side) => side * state.zoom);
    /* What is smaller than the pane lies in its middle; what is larger never leaves a gap. */
    const held = (at, side, room) => (side <= room ? (room - side) / 2 : Math.min(0, Math.max(room - side, at)));
    state.x = held(state.x, wide, pane.clientWidth);
    state.y = held(state.y, high, pane.clientHeight);
    Object.assign(image.style, { width: `${wide}px`, height: `${high}px`, left: `${state.x}px`, top: `${state.y}px` });
    pane.classList.toggle("near", state.zoom > 1);
  };
  const zoomAt = (factor, x = pane.clientWidth / 2, y = pane.clientHeight / 2) => {
    const zoom = Math.min(MOST, Math.max(1, state.zoom * factor));
    const by = zoom / state.zoom;
    state.x = x - (x - state.x) * by;
    state.y = y - (y - state.y) * by;
    state.zoom = zoom;
    lay();
  };
  const move = (dx, dy) => { state.x += dx; state.y += dy; lay(); };
  const whole = () => { state.zoom = 1; lay(); };
  return { lay, zoomAt, move, whole };
}

function listen(pane, view) {
  const fingers = new Map();
  const span = () => {
    const [a, b] = [...fingers.values()];
    return Math.hypot(a[0] - b[0], a[1] - b[1]);
  };
  pane.onwheel = (event) => {
    /* A page that scrolls past is not caught: the wheel enlarges with Ctrl, or once the drawing was clicked. */
    if (!event.ctrlKey && pane.getRootNode().activeElement !== pane) return;
    event.preventDefault();
    const frame = pane.getBoundingClientRect();
    view.zoomAt(event.deltaY < 0 ? STEP : 1 / STEP, event.clientX - frame.left, event.clientY - frame.top);
  };
  pane.onpointerdown = (event) => {
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    pane.setPointerCapture(event.pointerId);
  };
  pane.onpointermove = (event) => {
    const was = fingers.get(event.pointerId);
    if (!was) return;
    const before = fingers.size === 2 ? span() : null;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    if (before) view.zoomAt(span() / before);
    else view.move(event.clientX - was[0], event.clientY - was[1]);
  };
  pane.onpointerup = pane.onpointercancel = (event) => fingers.delete(event.pointerId);
  pane.onkeydown = (event) => {
    const steps = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
    if (steps) view.move(...steps);
    else if (event.key === "+" || event.key === "=") view.zoomAt(STEP);
    else if (event.key === "-") view.zoomAt(1 / STEP);
    else if (event.key === "0") view.whole();
    else return;
    event.preventDefault();
  };
}

export default function (component) {
  const { data, parentElement } = component;
  const root = parentElement.querySelector(".zoomed");
  if (root.dataset.drawn === data.url) return;
  root.dataset.drawn = data.url;
  root.replaceChildren();
  const { bar, pane, image, caption } = build(root);
  pane.style.height = `min(${data.height_px}px, 75vh)`;
  image.alt = data.alt;
  image.src = data.url;
  caption.textContent = data.caption;
  const view = moving(pane, image, data.ratio);
  const buttons = [["Larger", () => view.zoomAt(STEP)], ["Smaller", () => view.zoomAt(1 / STEP)], ["Show all", view.whole]];
  for (const [label, work] of buttons) {
    const button = make("button", { type: "button" }, label);
    button.onclick = work;
    bar.append(button);
  }
  listen(pane, view);
  new ResizeObserver(view.lay).observe(pane);
  view.lay();
}
