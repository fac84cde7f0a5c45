// Letters as large as the distance asks for. Where a screen is too small for everything, the
// phrases that are known by heart go first, then what comes later gets smaller and the step comes
// down to the least size; only then does all of it shrink, and the page says from how far it can still be read.
import { byId, say } from "./dom.js";

const MM_PER_INCH = 25.4;
const SMALLEST = 15; // CSS pixels
// Parts of the goal (step), of the least (text that matters) and of what may be smaller (what
// comes later, what was heard).
const STAGES = [
  [1, 1, 1], [1, 1, 0.8], [0.88, 1, 0.7], [0.8, 1, 0.62], [0.72, 1, 0.6], [0.64, 1, 0.6],
  ...[0.93, 0.86, 0.79, 0.72, 0.65, 0.58, 0.5, 0.43, 0.36, 0.3].map((by) => [0.7, by, 0.6]),
];

// The phrases that are known by heart grow into what room is left.
const KNOWN = [2.2, 1.9, 1.6, 1.35, 1.15, 1];

let [stage, growth] = [0, 0]; // of the last page

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
  const banner = byId("link").offsetHeight; // what is lost is told above everything
  body.style.setProperty("--banner", `${banner}px`);
  const room = innerHeight * (zoom > 1.2 ? zoom : 1) - banner;
  byId("why").hidden = true;
  body.style.setProperty("--known", 1);
  let letters = least;
  const size = (number) => {
    const [goalBy, leastBy, secondBy] = STAGES[number];
    letters = Math.max(SMALLEST, least * leastBy);
    if (narrow) letters = Math.min(letters, Math.max(17, innerWidth / 18));
    const step = narrow ? Math.min(goal, innerWidth / 11) : Math.max(letters, goal * goalBy * leastBy);
    body.style.setProperty("--least", `${letters}px`);
    body.style.setProperty("--goal", `${step}px`);
    body.style.setProperty("--second", `${narrow ? letters : Math.max(SMALLEST, letters * secondBy)}px`);
    return narrow || (byId("run").scrollHeight <= room + 1 && !tooWide());
  };
  stage = first(STAGES.length, stage, size);
  const why = byId("why"); // only where there is room for it
  why.hidden = !why.textContent;
  if (!narrow && byId("run").scrollHeight > room + 1) why.hidden = true;
  const more = byId("more");
  const grow = (number) => {
    body.style.setProperty("--known", narrow ? 1 : KNOWN[number]);
    return narrow || more.scrollHeight <= more.clientHeight + 1;
  };
  growth = first(KNOWN.length, growth, grow);
  keepWhole(narrow);
  const reach = (letters * cap * Number(data.distance)) / (perMm * Number(data.least));
  const far = Math.floor(reach * 10 + 0.05) / 10;
  const short = far < distance ? `, too small for ${distance} m` : "";
  say(byId("reach"), `Read from up to ${far.toFixed(1)} m on a ${inches} inch screen${short}`);
}

// The phrases that are known by heart take the room that is left; none is cut in half.
function keepWhole(all) {
  const phrases = [...byId("more-phrases").children];
  for (const each of phrases) each.hidden = false;
  if (all) return;
  const end = byId("more").getBoundingClientRect().bottom + 1;
  const below = phrases.filter((each) => each.getBoundingClientRect().bottom > end);
  for (const each of below) each.hidden = true;
}

// The first of `count` tries that fits, else the last; it stays applied. Each is smaller than the
// one before, and the last page's is likeliest: most pages are laid out twice, not sixteen times.
function first(count, likely, fits) {
  let [low, high, guess, applied] = [0, count - 1, likely, -1];
  while (low < high) {
    const near = guess === likely;
    applied = guess = Math.min(Math.max(guess, low), high - 1);
    if (fits(guess)) {
      high = guess;
      guess = near ? guess - 1 : (low + high) >> 1;
    } else {
      low = guess + 1;
      guess = near ? low : (low + high) >> 1;
    }
  }
  if (applied !== low) fits(low);
  return low;
}

function tooWide() {
  return document.documentElement.scrollWidth > innerWidth;
}
