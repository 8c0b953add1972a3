/* Rows of sherds at one scale. Everything that comes from the catalogue is set as text, never as markup. */

const make = (name, attributes = {}, text = null) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== null) element.textContent = text;
  return element;
};

const sizeKey = "motifs-wall-px-per-mm";

const remembered = (fallback) => {
  const kept = Number.parseFloat(window.sessionStorage.getItem(sizeKey));
  return Number.isFinite(kept) ? kept : fallback;
};

function toolbar(wall, data) {
  const bar = make("div", { class: "bar" });
  const size = make("label");
  const slider = make("input", { type: "range", min: data.sizes[0], max: data.sizes[1], step: "0.1" });
  const start = remembered(data.px_per_mm);
  slider.value = start;
  wall.style.setProperty("--s", start);
  slider.oninput = () => {
    wall.style.setProperty("--s", slider.value);
    window.sessionStorage.setItem(sizeKey, slider.value);
  };
  size.append(make("span", {}, "Size of the pictures"), slider);
  const cm = make("div", { class: "cm", role: "img", "aria-label": "scale bar, 5 cm" });
  const blocks = make("span", { class: "blocks" });
  for (let block = 0; block < 5; block += 1) blocks.append(make("i"));
  cm.append(blocks, make("span", {}, "5 cm, all pictures at this scale"));
  bar.append(cm, size);
  return bar;
}

function tileOf(tile, data, send) {
  const item = make("li");
  const button = make("button", { type: "button", class: "tile", "data-sherd": tile.sherd, "aria-label": tile.alt });
  button.style.setProperty("--w", tile.width_mm);
  button.style.setProperty("--h", tile.height_mm);
  const image = make("img", { loading: "lazy", alt: "", draggable: "false" });
  if (tile.url) image.src = tile.url;
  button.append(image, make("b", {}, tile.sherd));
  if (tile.support !== null) {
    const line = make("div", { class: "support" });
    const gauge = make("span");
    const filled = make("i");
    filled.style.width = `${Math.round(tile.support * 100)}%`;
    gauge.append(filled);
    line.append(gauge, make("span", { style: "border:0;width:auto;height:auto" }, tile.support.toFixed(2)));
    button.append(line);
  }
  for (const caption of tile.captions) button.append(make("small", {}, caption));
  for (const mark of tile.marks) button.append(make("small", { class: "mark" }, mark));
  button.onclick = () => send("picked", tile.sherd);
  if (data.movable) {
    button.draggable = true;
    button.ondragstart = (event) => event.dataTransfer.setData("text/plain", tile.sherd);
  }
  item.append(button);
  return item;
}

function rowOf(row, data, send) {
  const section = make("section", { "data-row": row.key, "aria-label": row.title });
  const head = make("header");
  head.append(make("h3", {}, row.title), make("span", {}, row.note));
  if (row.button) {
    const press = make("button", { type: "button" }, row.button);
    press.onclick = () => send("pressed", row.key);
    head.append(press);
  }
  section.append(head);
  if (row.tiles.length === 0) section.append(make("p", { class: "empty" }, row.empty));
  const list = make("ul", { class: "tiles" });
  for (const tile of row.tiles) list.append(tileOf(tile, data, send));
  section.append(list);
  if (data.movable && row.takes) {
    section.ondragover = (event) => { event.preventDefault(); section.classList.add("over"); };
    section.ondragleave = () => section.classList.remove("over");
    section.ondrop = (event) => {
      event.preventDefault();
      section.classList.remove("over");
      send("moved", { sherd: event.dataTransfer.getData("text/plain"), row: row.key });
    };
  }
  return section;
}

/* Arrow keys walk along the tiles, so that a keyboard needs no hundred tabs. */
function walk(rows) {
  rows.onkeydown = (event) => {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const tiles = [...rows.querySelectorAll(".tile")];
    const here = tiles.indexOf(event.target.closest(".tile"));
    if (!step || here < 0) return;
    event.preventDefault();
    tiles[Math.min(tiles.length - 1, Math.max(0, here + step))].focus();
  };
}

function markChosen(root, data) {
  for (const tile of root.querySelectorAll(".tile")) {
    tile.setAttribute("aria-pressed", String(tile.dataset.sherd === data.chosen));
    tile.classList.toggle("dashed", data.dashed.includes(tile.dataset.sherd));
  }
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".wall");
  const drawn = JSON.stringify([data.label, data.movable, data.rows]);
  if (root.dataset.drawn !== drawn) {
    root.replaceChildren();
    root.dataset.drawn = drawn;
    root.setAttribute("role", "group");
    root.setAttribute("aria-label", data.label);
    const rows = make("div", { class: "rows" });
    for (const row of data.rows) rows.append(rowOf(row, data, setTriggerValue));
    walk(rows);
    root.append(toolbar(root, data), rows);
  }
  markChosen(root, data);
}
