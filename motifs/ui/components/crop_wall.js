/* Rows of sherds at one scale. Everything that comes from the catalogue is set as text, never as markup. */

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

function tileOf(tile, data, send, picks) {
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
    const full = make("i");
    full.style.width = `${Math.round(tile.support * 100)}%`;
    gauge.append(full);
    line.append(gauge, make("span", { style: "border:0;width:auto;height:auto" }, tile.support.toFixed(2)));
    button.append(line);
  }
  for (const caption of tile.captions) button.append(make("small", {}, caption));
  for (const mark of tile.marks) button.append(make("small", { class: "mark" }, mark));
  button.onclick = (event) => {
    if (data.movable && (event.ctrlKey || event.metaKey || event.shiftKey)) picks.toggle(tile.sherd, event.shiftKey);
    else send("picked", tile.sherd);
  };
  item.append(button);
  if (data.movable) {
    button.draggable = true;
    button.ondragstart = (event) => {
      const several = picks.has(tile.sherd) ? picks.all() : [tile.sherd];
      event.dataTransfer.setData("text/plain", JSON.stringify(several));
    };
    const pick = make("input", { type: "checkbox", class: "pick", "aria-label": `pick ${tile.sherd}`, "data-pick": tile.sherd });
    pick.onclick = (event) => picks.toggle(tile.sherd, event.shiftKey);
    item.append(pick);
  }
  return item;
}

/* What is picked to be moved together. It lives in the browser alone until it is moved, so that picking is instant. */
function pickedOn(root, data, send) {
  const picked = new Set();
  let latest = null;
  const order = () => [...root.querySelectorAll(".tile")].map((tile) => tile.dataset.sherd);
  const picks = {
    has: (sherd) => picked.has(sherd),
    all: () => order().filter((sherd) => picked.has(sherd)),
    clear: () => { picked.clear(); picks.show(); },
    toggle: (sherd, isRange) => {
      const all = order();
      const [from, to] = [all.indexOf(latest), all.indexOf(sherd)].sort((a, b) => a - b);
      if (isRange && latest !== null && from >= 0) for (const one of all.slice(from, to + 1)) picked.add(one);
      else if (!picked.delete(sherd)) picked.add(sherd);
      latest = sherd;
      picks.show();
    },
    row: (sherds) => {
      const isFull = sherds.every((sherd) => picked.has(sherd));
      for (const sherd of sherds) { if (isFull) picked.delete(sherd); else picked.add(sherd); }
      picks.show();
    },
    show: () => {
      picks.changed?.();
      for (const box of root.querySelectorAll(".pick")) box.checked = picked.has(box.dataset.pick);
      for (const tile of root.querySelectorAll(".tile")) tile.classList.toggle("among", picked.has(tile.dataset.sherd));
      const bar = root.querySelector(".moving");
      if (!bar) return;
      bar.classList.toggle("idle", picked.size === 0);
      bar.querySelector(".many").textContent = picked.size === 0
        ? "Tick sherds to move several at once" : `${picked.size} picked`;
      for (const control of bar.querySelectorAll("select, button")) control.disabled = picked.size === 0;
    },
  };
  picks.bar = () => {
    const bar = make("div", { class: "moving", role: "group", "aria-label": "move what is picked" });
    const target = make("select", { "aria-label": "move the picked sherds to" });
    for (const place of data.places) target.append(make("option", { value: place.key }, place.title));
    const move = make("button", { type: "button" }, "Move");
    move.onclick = () => { const sherds = picks.all(); picks.clear(); send("moved", { sherds, row: target.value }); };
    const none = make("button", { type: "button", class: "quiet" }, "Put down");
    none.onclick = picks.clear;
    bar.append(make("span", { class: "many", "aria-live": "polite" }), make("span", {}, "to"), target, move, none);
    return bar;
  };
  return picks;
}

function rowOf(row, data, send, picks) {
  const section = make("section", { "data-row": row.key, "aria-label": row.title });
  const head = make("header");
  head.append(make("h3", {}, row.title), make("span", {}, row.note));
  if (row.press) head.append(make("kbd", { title: `key that moves the sherd in focus, or the ticked ones, to ${row.title}` }, row.press));
  for (const one of row.buttons) {
    const press = make("button", { type: "button", title: one.help }, one.label);
    press.onclick = () => send("pressed", { row: row.key, button: one.key });
    head.append(press);
  }
  if (data.movable && row.tiles.length > 0) {
    const all = make("button", { type: "button", class: "quiet", "aria-label": `pick all of ${row.title}` }, "Pick all");
    all.onclick = () => picks.row(row.tiles.map((tile) => tile.sherd));
    head.append(all);
  }
  section.append(head);
  if (row.tiles.length === 0) section.append(make("p", { class: "empty" }, row.empty));
  const list = make("ul", { class: "tiles" });
  for (const tile of row.tiles) list.append(tileOf(tile, data, send, picks));
  section.append(list);
  if (data.movable && row.takes) {
    section.ondragover = (event) => { event.preventDefault(); section.classList.add("over"); };
    section.ondragleave = () => section.classList.remove("over");
    section.ondrop = (event) => {
      event.preventDefault();
      section.classList.remove("over");
      const sherds = dropped(event.dataTransfer.getData("text/plain"));
      if (sherds.length === 0) return;
      picks.clear();
      send("moved", { sherds, row: row.key });
    };
  }
  return section;
}

/* Numbers that were dragged; nothing for whatever else a browser lets people drag here. */
function dropped(text) {
  try {
    const sherds = JSON.parse(text);
    return Array.isArray(sherds) ? sherds.map(String) : [];
  } catch {
    return [];
  }
}

/* Arrow keys walk along the tiles, so that a keyboard needs no hundred tabs; x picks, other keys move. */
function walk(rows, data, picks, send) {
  rows.onkeydown = (event) => {
    if (movedByKey(event, data, picks, send)) {
      event.preventDefault();
      return;
    }
    if (event.key.toLowerCase() === "x" && event.target.closest(".tile") && data.movable) {
      event.preventDefault();
      picks.toggle(event.target.closest(".tile").dataset.sherd, false);
      return;
    }
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const tiles = [...rows.querySelectorAll("li:not([hidden]) > .tile")];
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
  const drawn = JSON.stringify([data.label, data.movable, data.rows, data.places]);
  if (root.dataset.drawn !== drawn) {
    const focused = root.querySelector(".tile:focus")?.dataset.sherd;
    root.replaceChildren();
    root.dataset.drawn = drawn;
    root.setAttribute("role", "group");
    root.setAttribute("aria-label", data.label);
    const rows = make("div", { class: "rows" });
    const picks = pickedOn(root, data, setTriggerValue);
    for (const row of data.rows) rows.append(rowOf(row, data, setTriggerValue, picks));
    walk(rows, data, picks, setTriggerValue);
    const bar = toolbar(root, data);
    if (data.movable) bar.append(picks.bar());
    root.append(bar, rows);
    if (data.sifted) {
      const { bar: tools, apply } = sifter(root, data, picks);
      bar.append(tools);
      apply();
      picks.changed = () => { if (tools.querySelector("[data-tool=show]").value === "ticked") apply(); };
    }
    picks.show();
    /* Who walks along by keys stays where she was. */
    [...root.querySelectorAll(".tile")].find((tile) => tile.dataset.sherd === focused)?.focus({ preventScroll: true });
  }
  markChosen(root, data);
}
