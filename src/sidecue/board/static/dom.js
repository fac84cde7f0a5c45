// Small helpers: nothing here ever reads markup from a text.
export const byId = (id) => document.getElementById(id);

export function make(tag, names = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(names)) {
    if (name === "class") element.className = value;
    else if (name === "text") element.textContent = value;
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

export function draw(tag, names = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(names)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

// Set a text only when it changes, so that a screen reader is not told it again.
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function fill(element, key, children) {
  if (element.dataset.key === key) return;
  element.dataset.key = key;
  element.replaceChildren(...children());
}

const drawings = new Map();

function fetched(id) {
  if (!drawings.has(id)) {
    drawings.set(id, new Promise((resolve) => {
      const request = new XMLHttpRequest();
      request.open("GET", `/drawings/${encodeURIComponent(id)}.svg`);
      request.responseType = "document";
      request.overrideMimeType("image/svg+xml");
      request.addEventListener("load", () => resolve(request.responseXML?.documentElement ?? null));
      request.addEventListener("error", () => { drawings.delete(id); resolve(null); });
      request.send();
    }));
  }
  return drawings.get(id);
}

// The drawing of an instrument; its name stands beside it, so a screen reader skips it.
export function picture(item) {
  const holder = make("span", { class: "picture", "aria-hidden": "true" });
  fetched(item.id).then((svg) => {
    if (svg) holder.replaceChildren(document.importNode(svg, true));
  });
  return holder;
}

export const prefetch = (items) => items.forEach((item) => fetched(item.id));
