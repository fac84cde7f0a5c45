// Timers: a number, a shape and a word. Each phase has a form of its own, so that it can be told
// without colour: waiting fills up to a gate, running out is a wedge that shrinks to its point,
// overdue is a row of teeth on a panel turned inside out.
import { draw, fill, make, say } from "./dom.js";

const WORDS = {
  wait: "wait", stop: "stop in", left: "left", done: "long enough", over: "OVERDUE",
  up: "time is up", hidden: "not live",
};
const KINDS_THAT_SPOIL = new Set(["hard-maximum", "window"]);

export function phaseOf(timer, now) {
  const elapsed = Math.max(0, now - timer.started);
  const { least, most } = timer;
  if (timer.overdue) return at("over", elapsed - (most ?? elapsed), 1);
  if (least !== null && elapsed < least) return at("wait", least - elapsed, elapsed / least);
  if (most !== null && elapsed < most) {
    const from = least ?? 0;
    const kind = KINDS_THAT_SPOIL.has(timer.kind) ? "stop" : "left";
    return at(kind, most - elapsed, (elapsed - from) / (most - from));
  }
  if (most !== null) {
    return at(KINDS_THAT_SPOIL.has(timer.kind) ? "over" : "up", elapsed - most, 1);
  }
  return at("done", elapsed, 1);
}

const at = (phase, seconds, fraction) => ({ phase, seconds, fraction });

export function clock(seconds, phase) {
  const whole = phase === "wait" || phase === "stop" || phase === "left"
    ? Math.ceil(seconds - 1e-6) : Math.floor(seconds);
  const text = `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
  return phase === "over" || phase === "up" ? `+${text}` : text;
}

function shape(phase, fraction) {
  const p = Math.min(100, Math.max(0, fraction * 100));
  if (phase === "wait") {
    return [
      draw("rect", { class: "line", x: 1, y: 3, width: 94, height: 14 }),
      draw("rect", { class: "solid", x: 1, y: 3, width: 0.94 * p, height: 14 }),
      draw("rect", { class: "solid", x: 96, y: 0, width: 4, height: 20 }),
    ];
  }
  if (phase === "stop") {
    const half = (x) => 10 * (1 - x / 100);
    return [
      draw("polygon", { class: "line", points: "0,0 100,10 0,20" }),
      draw("polygon", { class: "solid", points: `${p},${10 - half(p)} 100,10 ${p},${10 + half(p)}` }),
    ];
  }
  if (phase === "left") {
    return [
      draw("rect", { class: "line", x: 1, y: 6, width: 98, height: 8 }),
      draw("rect", { class: "solid", x: 1 + 0.98 * p, y: 6, width: 0.98 * (100 - p), height: 8 }),
    ];
  }
  if (phase === "over") {
    const teeth = Array.from({ length: 11 }, (_, n) => `${n * 10},${n % 2 ? 0 : 14}`).join(" ");
    return [draw("polygon", { class: "solid", points: `${teeth} 100,20 0,20` })];
  }
  if (phase === "hidden") {
    return [draw("path", { class: "line dashed", d: "M0 10H100" })];
  }
  return [draw("rect", { class: "solid", x: 0, y: 7, width: 100, height: 6 })];
}

export class Clocks {
  constructor(holder) {
    this.holder = holder;
    this.timers = [];
    this.rows = [];
  }

  show(timers) {
    this.timers = timers;
    fill(this.holder, JSON.stringify(timers.map((each) => each.name)), () => {
      this.rows = timers.map((timer) => {
        const row = {
          number: make("span", { class: "number" }),
          word: make("span", { class: "word" }),
          picture: draw("svg", { viewBox: "0 0 100 20", preserveAspectRatio: "none", class: "shape",
            "aria-hidden": "true" }),
        };
        row.panel = make("div", { class: "clock" },
          make("p", { class: "clock-name", text: timer.name }),
          make("p", { class: "clock-line" }, row.number, row.word), row.picture);
        return row;
      });
      return this.rows.map((row) => row.panel);
    });
  }

  // Returns whether a timer went over into another phase, which may need other room.
  // `now` is null while the line is down: then no number is shown at all.
  tick(now) {
    let turned = false;
    this.timers.forEach((timer, index) => {
      const row = this.rows[index];
      const { phase, seconds, fraction } = now === null ? at("hidden", 0, 0) : phaseOf(timer, now);
      if (row.panel.dataset.phase !== phase) {
        row.panel.dataset.phase = phase;
        turned = true;
      }
      say(row.number, now === null ? "\u2013:\u2013\u2013" : clock(seconds, phase));
      say(row.word, WORDS[phase]);
      const drawn = `${phase} ${Math.round(fraction * 200)}`;
      fill(row.picture, drawn, () => shape(phase, fraction));
    });
    return turned;
  }
}
