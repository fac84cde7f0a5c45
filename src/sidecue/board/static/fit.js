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
// Stages in which nothing that must be known at once has shrunk.
const WHOLE = STAGES.filter(([, least]) => least === 1).length;
// Room for fewer letters than this, across or down, has everything below each other.
const WIDE = { across: 25, down: 14 };

// The phrases that are known by heart grow into what room is left.
const KNOWN = [2.2, 1.9, 1.6, 1.35, 1.15, 1, 0.85, 0.75, 0.6, 0.5];
const KNOWN_AT_LEAST = 0.75; // while the step can still come down

const likely = { wide: 0, close: 0, narrow: 0, known: 0 }; // what the last pages came to
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

// `same`: nothing but what was heard, or the word at a timer, has changed. Then it stays as it is
// while it fits: the page is calmer so, and what came of a word is there sooner.
export function fit(same = false) {
  const body = document.body;
  if (body.dataset.kind !== "session") return;
  const perMm = pixelsPerMm();
  const least = (Number(data.least) * scale * perMm) / cap;
  const goal = (Number(data.goal) * scale * perMm) / cap;
  const narrow = innerWidth < 760;
  const zoom = Math.max(1, outerWidth / innerWidth || 1); // zoomed in: let it scroll instead
  const link = byId("link"); // what is lost is told above everything
  const banner = link.textContent ? link.offsetHeight : 0; // a question costs a layout
  style(body, "--banner", `${banner}px`);
  const room = innerHeight * (zoom > 1.2 ? zoom : 1) - banner;
  const now = `${innerWidth} ${room}`;
  if (same && now === laidOut && (fits(room) || lessKnown(room))) return;
  laidOut = now;
  body.dataset.fitting = "";
  byId("why").hidden = true;
  let letters = least;
  const dress = (number) => {
    const [goalBy, leastBy, secondBy, bare] = STAGES[number];
    letters = Math.max(SMALLEST, least * leastBy);
    if (narrow) letters = Math.min(letters, Math.max(17, innerWidth / 18));
    const step = narrow ? Math.min(goal, innerWidth / 11) : Math.max(letters, goal * goalBy * leastBy);
    body.toggleAttribute("data-bare", !narrow && bare === "bare");
    style(body, "--least", `${letters}px`);
    style(body, "--goal", `${step}px`);
    style(body, "--second", `${narrow ? letters : Math.max(SMALLEST, letters * secondBy)}px`);
    // All of them always have room.
    known(narrow ? 1 : bare ? KNOWN.at(-1) : KNOWN_AT_LEAST);
  };
  const search = (name, count) => {
    body.dataset.room = name;
    likely[name] = narrow ? 0 : first(count, likely[name], (n) => { dress(n); return fits(room); });
    if (likely[name] < STAGES.length) dress(likely[name]);
    return likely[name];
  };
  if (narrow) search("narrow", 1);
  else {
    // Rather another place than letters too small.
    const wide = innerWidth / least >= WIDE.across && room / least >= WIDE.down;
    if (!wide || search("wide", WHOLE + 1) === WHOLE) search("close", STAGES.length);
  }
  if (body.dataset.bare === "") { // beside short names there may be room for drawings all the same
    body.dataset.bare = "label";
    if (!fits(room)) body.dataset.bare = "";
  }
  const why = byId("why"); // only where there is room for it
  why.hidden = !why.textContent;
  if (!narrow && !why.hidden && !fits(room)) why.hidden = true;
  if (!narrow) {
    likely.known = first(KNOWN.length, likely.known, (n) => fitsKnown(n, room));
    known(KNOWN[likely.known]);
  }
  delete body.dataset.fitting;
  const reach = (letters * cap * Number(data.distance)) / (perMm * Number(data.least));
  const far = Math.floor(reach * 10 + 0.05) / 10;
  const short = far < distance ? `, too small for ${distance} m` : "";
  say(byId("reach"), `Read from up to ${far.toFixed(1)} m on a ${inches} inch screen${short}`);
}

// Each setting that changes costs a layout: none is set twice.
function style(element, name, value) {
  if (element.style.getPropertyValue(name) !== value) element.style.setProperty(name, value);
}

function known(by) {
  style(byId("more-phrases"), "--known", String(by));
}

function fitsKnown(number, room) {
  known(KNOWN[number]);
  return fits(room);
}

// Whether all fits once the phrases that are known by heart are smaller than they were.
function lessKnown(room) {
  const least = document.body.hasAttribute("data-bare") ? KNOWN.length - 1 : KNOWN.indexOf(KNOWN_AT_LEAST);
  const smaller = likely.known + 1;
  if (smaller > least || !fitsKnown(least, room)) return false;
  likely.known = smaller + first(least - smaller + 1, 1, (n) => fitsKnown(smaller + n, room));
  known(KNOWN[likely.known]);
  return true;
}

// The first of `count` tries that fits, else the last, which is not tried. Each is smaller than the
// one before. The last page's is the likeliest, and the one before it the likeliest that does not
// fit: most pages are laid out twice.
function first(count, likeliest, fitting) {
  let [low, high, guess, stride] = [0, count - 1, likeliest - 1, 1];
  while (low < high) {
    const at = Math.min(Math.max(guess, low), high - 1);
    if (fitting(at)) {
      high = at;
      guess = at - stride;
    } else {
      low = at + 1;
      guess = at + stride;
    }
    stride *= 2;
  }
  return low;
}

function fits(room) {
  return byId("run").scrollHeight <= room + 1 && document.documentElement.scrollWidth <= innerWidth;
}
