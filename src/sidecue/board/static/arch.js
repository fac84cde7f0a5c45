// Both arches as the operator sees them: the patient's right is on the left. Teeth lie on two half
// ellipses; each is a button that a keyboard reaches too.
import { draw } from "./dom.js";

const WIDTHS = { incisor: 20, canine: 22, premolar: 24, molar: 32 };
const CENTRE = { x: 240, upper: 178, lower: 222 };
const REACH = { x: 212, y: 160, inner: 0.66 };

export function arch(teeth, pick) {
  const svg = draw("svg", { viewBox: "0 0 480 400", class: "arch", role: "group",
    "aria-label": "Teeth, the patient's right on the left" });
  const places = new Map();
  for (const primary of [false, true]) {
    for (const corner of [1, 2, 3, 4]) {
      const row = teeth.filter((each) => each.primary === primary && each.corner === corner)
        .sort((a, b) => a.place - b.place);
      const widths = row.map((each) => WIDTHS[each.kind]);
      const whole = widths.reduce((sum, each) => sum + each, 0);
      let from = 0;
      row.forEach((tooth, index) => {
        const share = (from + widths[index] / 2) / whole;
        from += widths[index];
        places.set(tooth.id, one(tooth, share, primary ? REACH.inner : 1, pick));
      });
    }
  }
  svg.append(...places.values());
  svg.append(side(14, "R"), side(466, "L"));
  return {
    element: svg,
    mark(id) {
      for (const [each, place] of places) place.setAttribute("aria-pressed", String(each === id));
    },
  };
}

function one(tooth, share, reach, pick) {
  const upper = tooth.corner < 3;
  const right = tooth.corner === 1 || tooth.corner === 4;
  const turn = (Math.PI / 2) * (0.04 + share * 0.94); // from the midline outwards
  const x = CENTRE.x + (right ? -1 : 1) * REACH.x * reach * Math.sin(turn);
  const y = (upper ? CENTRE.upper : CENTRE.lower) + (upper ? -1 : 1) * REACH.y * reach * Math.cos(turn);
  const size = (tooth.primary ? 11 : 12.5) + (tooth.kind === "molar" ? 4 : 0);
  const place = draw("g", { class: "tooth-place", role: "button", tabindex: "0", "aria-pressed": "false",
    "aria-label": `${tooth.id}, ${tooth.name}` });
  const form = tooth.posterior
    ? draw("rect", { x: x - size, y: y - size, width: 2 * size, height: 2 * size, rx: size * 0.5 })
    : draw("ellipse", { cx: x, cy: y, rx: size, ry: size * 0.95 });
  const label = draw("text", { x, y: y + 4.5, "text-anchor": "middle" });
  label.textContent = tooth.id;
  place.append(form, label);
  place.addEventListener("click", () => pick(tooth.id));
  place.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") { event.preventDefault(); pick(tooth.id); }
  });
  return place;
}

function side(x, text) {
  const label = draw("text", { x, y: 205, "text-anchor": "middle", class: "arch-side" });
  label.textContent = text;
  return label;
}
