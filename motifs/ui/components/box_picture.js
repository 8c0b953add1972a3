/* A sherd's crop on which a box is dragged; the box is sent in px of the crop. */

export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const root = parentElement.querySelector(".boxed");
  if (!root.firstChild) {
    const sheet = document.createElement("div");
    sheet.className = "sheet";
    const image = document.createElement("img");
    const box = document.createElement("div");
    box.className = "box";
    sheet.append(image, box);
    const hint = document.createElement("p");
    hint.textContent = "Drag over the part to compare, or give its numbers below.";
    root.append(sheet, hint);
  }
  const sheet = root.querySelector(".sheet");
  const image = root.querySelector("img");
  const box = root.querySelector(".box");
  image.alt = data.alt;
  if (image.getAttribute("src") !== data.url) image.src = data.url;

  const put = (x, y, width, height) => {
    box.hidden = width < 1 || height < 1;
    box.style.display = box.hidden ? "none" : "block";
    box.style.left = `${(100 * x) / data.width_px}%`;
    box.style.top = `${(100 * y) / data.height_px}%`;
    box.style.width = `${(100 * width) / data.width_px}%`;
    box.style.height = `${(100 * height) / data.height_px}%`;
  };
  put(...(data.box ?? [0, 0, 0, 0]));

  const at = (event) => {
    const frame = image.getBoundingClientRect();
    const within = (value, size) => Math.min(size, Math.max(0, value));
    return [
      within(((event.clientX - frame.left) / frame.width) * data.width_px, data.width_px),
      within(((event.clientY - frame.top) / frame.height) * data.height_px, data.height_px),
    ];
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
    if (start) put(...between(start, at(event)));
  };
  sheet.onpointerup = (event) => {
    if (!start) return;
    const drawn = between(start, at(event));
    start = null;
    /* A click without a drag takes the box away. */
    setTriggerValue("boxed", drawn[2] < 4 || drawn[3] < 4 ? [] : drawn);
  };
}
