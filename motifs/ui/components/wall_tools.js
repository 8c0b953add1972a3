/* Finding, narrowing and ordering the tiles of a wall, and moving them by keys. All of it happens in the browser, on what is there
   already, and is remembered for this window, so that nothing has to be fetched or drawn again. */

const ORDERS = [["given", "surest first"], ["unsure", "least sure first"], ["number", "number"], ["size", "largest first"]];
const NARROWINGS = [
  ["all", "all sherds"],
  ["word", "on nobody's word"],
  ["unsure", "support below 0.90"],
  ["ticked", "ticked"],
];
const SURE = 0.9;

/* Kept for each wall by itself: what narrows one lot would empty another. */
const wordKey = (data, name) => `motifs-wall-${name}-${data.label}`;
const rememberedWord = (data, name, fallback) => window.sessionStorage.getItem(wordKey(data, name)) ?? fallback;

function chooser(data, label, name, options, changed) {
  const box = make("label");
  const list = make("select", { "data-tool": name });
  for (const [key, title] of options) list.append(make("option", { value: key }, title));
  list.value = rememberedWord(data, name, options[0][0]);
  list.onchange = () => { window.sessionStorage.setItem(wordKey(data, name), list.value); changed(); };
  box.append(make("span", {}, label), list);
  return box;
}

/* Find, show and order; returns the bar and what applies it. */
function sifter(root, data, picks) {
  const bar = make("div", { class: "sift", role: "group", "aria-label": "find, narrow and order the sherds" });
  const find = make("input", { type: "search", placeholder: "part of a number", "data-tool": "find" });
  find.value = rememberedWord(data, "find", "");
  const told = make("span", { class: "told", "aria-live": "polite" });
  const every = make("button", { type: "button" }, "Show all");
  const tiles = new Map(data.rows.flatMap((row) => row.tiles.map((tile, place) => [tile.sherd, { ...tile, place }])));
  const value = (name) => bar.querySelector(`[data-tool=${name}]`).value;
  const fits = {
    all: () => true,
    word: (tile) => !tile.is_judged,
    unsure: (tile) => tile.support !== null && tile.support < SURE,
    ticked: (tile) => picks.has(tile.sherd),
  };
  const ways = {
    given: (a, b) => a.place - b.place,
    unsure: (a, b) => (a.support ?? 2) - (b.support ?? 2) || a.place - b.place,
    number: (a, b) => a.sherd.localeCompare(b.sherd, undefined, { numeric: true }),
    size: (a, b) => b.width_mm * b.height_mm - a.width_mm * a.height_mm,
  };
  const apply = () => {
    const words = find.value.trim().toLowerCase();
    const order = ways[value("order")] ?? ways.given;
    const fit = fits[value("show")] ?? fits.all;
    let shown = 0;
    for (const list of root.querySelectorAll(".tiles")) {
      const items = [...list.children].map((item) => [item, tiles.get(item.querySelector(".tile").dataset.sherd)]);
      for (const [item, tile] of items) {
        item.hidden = !(tile.sherd.toLowerCase().includes(words) && fit(tile));
        shown += item.hidden ? 0 : 1;
      }
      list.append(...items.sort((a, b) => order(a[1], b[1])).map(([item]) => item));
    }
    told.textContent = shown === tiles.size ? "" : `${shown} of ${tiles.size} shown`;
    every.hidden = shown === tiles.size;
  };
  every.onclick = () => {
    for (const [name, value] of [["find", ""], ["show", "all"]]) {
      bar.querySelector(`[data-tool=${name}]`).value = value;
      window.sessionStorage.setItem(wordKey(data, name), value);
    }
    apply();
  };
  find.oninput = () => { window.sessionStorage.setItem(wordKey(data, "find"), find.value); apply(); };
  const label = make("label");
  label.append(make("span", {}, "Find"), find);
  bar.append(label, chooser(data, "Show", "show", NARROWINGS, apply), chooser(data, "Order", "order", ORDERS, apply), told, every);
  return { bar, apply };
}

/* 1 to 9 move to the row of that place, U puts aside, N makes a row of its own; what is ticked, or else the tile that has the focus. */
function movedByKey(event, data, picks, send) {
  const tile = event.target.closest(".tile");
  if (!data.movable || !tile || event.ctrlKey || event.altKey || event.metaKey) return false;
  const rows = data.rows.filter((row) => row.key !== "unassigned");
  const row = /^[1-9]$/.test(event.key) ? rows[Number(event.key) - 1]?.key
    : { u: "unassigned", n: data.places.find((place) => place.key === "new")?.key }[event.key.toLowerCase()];
  if (!row || !data.places.some((place) => place.key === row)) return false;
  const sherds = picks.all().length ? picks.all() : [tile.dataset.sherd];
  picks.clear();
  send("moved", { sherds, row });
  return true;
}
