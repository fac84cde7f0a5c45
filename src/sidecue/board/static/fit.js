// Letters as large as the distance asks for. What is to be known at once (the step, its cautions,
// what to hand, the timers, what was heard) keeps the least size; a smaller screen shows the rest
// smaller: first what comes later and may be said, then the step comes down from its goal to the
// least, then the drawings go. Only then does all of it shrink, and the page says from how far it
// can still be read.
import { byId, say } from "./dom.js";

const MM_PER_INCH = 25.4;
const SMALLEST = 15; // CSS pixels
// Parts of the goal (step), of the least (text that matters) and of what may be smaller; and
// whether the drawings go.
const SHRINK = Array.from({ length: 28 }, (_, n) => 0.975 - 0.025 * n);
const STAGES = [
  [1, 1, 1], [1, 1, 0.8], [0.88, 1, 0.7], [0.8, 1, 0.62], [0.72, 1, 0.56], [0.64, 1, 0.5],
  [0.64, 1, 0.42, "bare"], ...SHRINK.map((by) => [0.64, by, 0.42, "bare"]),
];
// Room for fewer letters than this, across or down, has everything below each other.
const WIDE = { across: 25, down: 14 };

// The phrases that are known by heart grow into what room is left.
const KNOWN = [2.2, 1.9, 1.6, 1.35, 1.15, 1, 0.85, 0.75, 0.6, 0.5];
const KNOWN_AT_LEAST = 0.75; // while the step can still come down

let [stage, growth] = [0, 0]; // of the last page
let laidOut = ""; // the room it was laid out for

const data = document.documentElement.dataset;
const asked = new URLSearchParams(location.search);
const inches = Number(asked.get("screen")) || Number(data.inches);
const distance = Number(asked.get("distance")) || Number(data.distance);
const scale = distance / Number(data.distance);

// How much of its size a capital letter of this page's font is high: drawn and counted, for what
// the browser says of it is up to a thirtieth too much.
function capital() {
  const size = 400;
  const canvas = Object.assign(document.createElement("canvas"), { width: size, height: size });
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  pen.font = `700 ${size}px ${getComputedStyle(document.body).fontFamily}`;
  pen.fillText("H", 0, size - 20);
  const { data } = pen.getImageData(0, 0, size, size);
  let rows = 0;
  for (let row = 0; row < size; row += 1) {
    for (let at = row * size; at < (row + 1) * size; at += 1) {
      if (data[4 * at + 3] > 127) { rows += 1; break; }
    }
  }
  return rows / size || 0.68;
}

const cap = capital();

function pixelsPerMm() {
  return Math.hypot(screen.width, screen.height) / (inches * MM_PER_INCH);
}

// `same`: nothing but what was heard has changed. Then it stays as it is while it fits: the page
// is calmer so, and what came of a word is there sooner.
export function fit(same = false) {
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
  const now = `${innerWidth} ${room}`;
  if (same && now === laidOut && fits(room)) return;
  laidOut = now;
  const wide = innerWidth / least >= WIDE.across && room / least >= WIDE.down;
  body.dataset.room = narrow ? "narrow" : wide ? "wide" : "close";
  byId("why").hidden = true;
  let letters = least;
  const size = (number) => {
    const [goalBy, leastBy, secondBy, bare] = STAGES[number];
    letters = Math.max(SMALLEST, least * leastBy);
    if (narrow) letters = Math.min(letters, Math.max(17, innerWidth / 18));
    const step = narrow ? Math.min(goal, innerWidth / 11) : Math.max(letters, goal * goalBy * leastBy);
    body.toggleAttribute("data-bare", !narrow && bare === "bare");
    body.style.setProperty("--least", `${letters}px`);
    body.style.setProperty("--goal", `${step}px`);
    body.style.setProperty("--second", `${narrow ? letters : Math.max(SMALLEST, letters * secondBy)}px`);
    // All of them always have room.
    body.style.setProperty("--known", narrow ? 1 : bare ? KNOWN.at(-1) : KNOWN_AT_LEAST);
    return narrow || fits(room);
  };
  stage = first(STAGES.length, stage, size);
  if (wide && !narrow && STAGES[stage][1] < 1) { // rather another place than letters too small
    body.dataset.room = "close";
    stage = first(STAGES.length, stage, size);
  }
  if (body.dataset.bare === "") { // beside short names there may be room for drawings all the same
    body.dataset.bare = "label";
    if (!fits(room)) body.dataset.bare = "";
  }
  const why = byId("why"); // only where there is room for it
  why.hidden = !why.textContent;
  if (!narrow && !fits(room)) why.hidden = true;
  const grow = (number) => {
    body.style.setProperty("--known", narrow ? 1 : KNOWN[number]);
    return narrow || fits(room);
  };
  growth = first(KNOWN.length, growth, grow);
  const reach = (letters * cap * Number(data.distance)) / (perMm * Number(data.least));
  const far = Math.floor(reach * 10 + 0.05) / 10;
  const short = far < distance ? `, too small for ${distance} m` : "";
  say(byId("reach"), `Read from up to ${far.toFixed(1)} m on a ${inches} inch screen${short}`);
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

function fits(room) {
  return byId("run").scrollHeight <= room + 1 && document.documentElement.scrollWidth <= innerWidth;
}
