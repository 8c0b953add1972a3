/* A sherd's crop, rim up, on which a box is dragged; the box is sent in px of the crop, however the crop is turned. */

const SVG_NAMES = "http://www.w3.org/2000/svg";

const node = (name, attributes = {}) => {
  const element = document.createElementNS(SVG_NAMES, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
};

/* Width and height that the turned crop takes. */
const extent = (data) => {
  const turn = (data.turn_deg * Math.PI) / 180;
  const [cos, sin] = [Math.abs(Math.cos(turn)), Math.abs(Math.sin(turn))];
  return [data.width_px * cos + data.height_px * sin, data.width_px * sin + data.height_px * cos];
};

const frameOf = (name, [x, y, width, height]) => node("rect", { class: name, x, y, width, height });

/* A box that is on record, with its number upright at its corner. */
function marked(boxes, turn_deg) {
  return boxes.flatMap((box, place) => {
    const [x, y] = box;
    const number = node("text", { class: "number", x, y, transform: `rotate(${-turn_deg} ${x} ${y})` });
    number.textContent = String(place + 1);
    return [frameOf("casing", box), frameOf("kept", box), number];
  });
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".boxed");
  const [across, down] = extent(data);
  const sheet = node("svg", { class: "sheet", role: "img", "aria-label": data.alt });
  sheet.setAttribute("viewBox", `${-across / 2} ${-down / 2} ${across} ${down}`);
  sheet.style.width = `min(100%, ${Math.round((data.side_px * across) / Math.max(across, down))}px)`;
  sheet.style.aspectRatio = `${across} / ${down}`;
  sheet.style.fontSize = `${Math.max(across, down) / 22}px`;
  const turned = node("g", { transform: `rotate(${data.turn_deg}) translate(${-data.width_px / 2} ${-data.height_px / 2})` });
  const image = node("image", { href: data.url, width: data.width_px, height: data.height_px });
  const drawn = node("g", { class: "drawn" });
  turned.append(image, ...marked(data.kept, data.turn_deg), drawn);
  sheet.append(turned);
  const hint = document.createElement("p");
  hint.textContent = data.hint;
  root.replaceChildren(sheet, hint);

  const put = (box) => {
    const is_one = box[2] >= 1 && box[3] >= 1;
    drawn.replaceChildren(...(is_one ? [frameOf("casing", box), frameOf("box", box)] : []));
  };
  put(data.box ?? [0, 0, 0, 0]);

  const at = (event) => {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(turned.getScreenCTM().inverse());
    const within = (value, size) => Math.min(size, Math.max(0, value));
    return [within(point.x, data.width_px), within(point.y, data.height_px)];
  };
  const between = (a, b) => [
    Math.round(Math.min(a[0], b[0])),
    Math.round(Math.min(a[1], b[1])),
    Math.round(Math.abs(a[0] - b[0])),
    Math.round(Math.abs(a[1] - b[1])),
  ];
  let start = null;
  sheet.onpointerdown = (event) => {
    start = at(event);
    sheet.setPointerCapture(event.pointerId);
  };
  sheet.onpointermove = (event) => {
    if (start) put(between(start, at(event)));
  };
  sheet.onpointerup = (event) => {
    if (!start) return;
    const box = between(start, at(event));
    start = null;
    /* A click without a drag takes the box away. */
    setTriggerValue("boxed", box[2] < 4 || box[3] < 4 ? [] : box);
  };
  sheet.onpointercancel = () => {
    start = null;
    put(data.box ?? [0, 0, 0, 0]);
  };
}
