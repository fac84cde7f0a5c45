// Letters as large as the distance asks for. Where a screen is too small for everything, the
// phrases that are known by heart go first, then the step comes down to the least size; only then
// does all of it shrink, and the page says from how far it can still be read.
import { byId, say } from "./dom.js";

const MM_PER_INCH = 25.4;
const SMALLEST = 15; // CSS pixels
const STAGES = [
  [1, 1, true], [0.9, 1, true], [0.9, 1, false], [0.8, 1, false], [0.7, 1, false], [0.64, 1, false],
  [0.64, 0.9, false], [0.64, 0.8, false], [0.64, 0.72, false], [0.64, 0.64, false],
  [0.64, 0.56, false], [0.64, 0.48, false], [0.64, 0.42, false], [0.64, 0.36, false],
];

const data = document.documentElement.dataset;
const asked = new URLSearchParams(location.search);
const inches = Number(asked.get("screen")) || Number(data.inches);
const distance = Number(asked.get("distance")) || Number(data.distance);
const scale = distance / Number(data.distance);

// How much of its size a capital letter of this page's font is high.
function capital() {
  const pen = document.createElement("canvas").getContext("2d");
  pen.font = `700 1000px ${getComputedStyle(document.body).fontFamily}`;
  return pen.measureText("H").actualBoundingBoxAscent / 1000 || 0.72;
}

const cap = capital();

function pixelsPerMm() {
  return Math.hypot(screen.width, screen.height) / (inches * MM_PER_INCH);
}

export function fit() {
  const body = document.body;
  if (body.dataset.kind !== "session") return;
  const perMm = pixelsPerMm();
  const least = (Number(data.least) * scale * perMm) / cap;
  const goal = (Number(data.goal) * scale * perMm) / cap;
  const narrow = innerWidth < 760;
  const zoom = Math.max(1, outerWidth / innerWidth || 1); // zoomed in: let it scroll instead
  const room = innerHeight * (zoom > 1.2 ? zoom : 1);
  let letters = least;
  for (const [goalBy, leastBy, all] of STAGES) {
    letters = Math.max(SMALLEST, least * leastBy);
    if (narrow) letters = Math.min(letters, Math.max(17, innerWidth / 18));
    const step = narrow ? Math.min(goal, innerWidth / 11) : Math.max(letters, goal * goalBy * leastBy);
    body.style.setProperty("--least", `${letters}px`);
    body.style.setProperty("--goal", `${step}px`);
    body.dataset.all = String(all || narrow);
    if (narrow || (byId("run").scrollHeight <= room + 1 && !tooWide())) break;
  }
  const reach = (letters * cap * Number(data.distance)) / (perMm * Number(data.least));
  const far = Math.floor(reach * 10 + 0.05) / 10;
  const short = far < distance ? `, too small for ${distance} m` : "";
  say(byId("reach"), `Read from up to ${far.toFixed(1)} m on a ${inches} inch screen${short}`);
}

function tooWide() {
  return document.documentElement.scrollWidth > innerWidth;
}
