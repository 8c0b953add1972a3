/* A photograph with the outlines found on it. A click or Enter takes an outline into the choice, or out of it. */

const SVG = "http://www.w3.org/2000/svg";

const make = (name, attributes = {}, text = null) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== null) element.textContent = text;
  return element;
};

const draw = (name, attributes = {}, text = null) => {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== null) element.textContent = text;
  return element;
};

function outlineOf(outline, data, toggle) {
  const classes = ["sherd", outline.look ? "look" : ""].join(" ").trim();
  const group = draw("g", { class: classes, tabindex: "0", role: "button", "aria-label": outline.alt, "data-sherd": outline.sherd });
  group.append(
    draw("title", {}, outline.alt),
    draw("polygon", { class: "halo", points: outline.points }),
    draw("polygon", { class: "line", points: outline.points }),
    draw("text", { x: outline.at[0], y: outline.at[1], "font-size": data.text_px, "stroke-width": data.text_px / 5 }, outline.label),
  );
  group.onclick = () => toggle(outline.sherd);
  group.onkeydown = (event) => {
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      toggle(outline.sherd);
    }
  };
  return group;
}

function toolbar(sheet) {
  const bar = make("div", { class: "bar" });
  const size = make("label");
  const slider = make("input", { type: "range", min: "1", max: "4", step: "0.25", value: "1" });
  slider.oninput = () => sheet.style.setProperty("--zoom", slider.value);
  size.append(make("span", {}, "Nearer"), slider);
  bar.append(size, make("span", {}, "Click an outline to choose it; dashed ones ask for a look."));
  return bar;
}

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".outlines");
  const drawn = JSON.stringify([data.url, data.outlines]);
  root.chosen = new Set(data.chosen);
  if (root.dataset.drawn !== drawn) {
    root.dataset.drawn = drawn;
    root.replaceChildren();
    const toggle = (sherd) => {
      root.chosen.has(sherd) ? root.chosen.delete(sherd) : root.chosen.add(sherd);
      setTriggerValue("chosen", [...root.chosen]);
    };
    const sheet = make("div", { class: "sheet" });
    const image = make("img", { alt: data.alt });
    image.src = data.url;
    const svg = draw("svg", { viewBox: `0 0 ${data.width_px} ${data.height_px}`, preserveAspectRatio: "none", role: "group", "aria-label": data.alt });
    for (const outline of data.outlines) svg.append(outlineOf(outline, data, toggle));
    sheet.append(image, svg);
    const view = make("div", { class: "view" });
    view.append(sheet);
    root.append(toolbar(sheet), view);
  }
  for (const group of root.querySelectorAll("g.sherd")) {
    const isChosen = root.chosen.has(group.dataset.sherd);
    group.classList.toggle("chosen", isChosen);
    group.setAttribute("aria-pressed", String(isChosen));
  }
}
