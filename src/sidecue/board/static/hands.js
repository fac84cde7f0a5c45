// Keys and pedals. A key held down or tapped twice counts once; a press counts for the page it was
// made on, never for the one that came in between.
import { byId, make, say } from "./dom.js";

const TWICE = 400;
const RENEW = 400; // a hold that is not told again lapses by itself
const LONGEST = 60_000;
const TAP = 350; // let go sooner than this, a pedal for all was tapped
const ROLES = [
  ["all", "One pedal for all: tapped, next or yes; held, to speak"],
  ["talk", "Hold to talk, no address needed"],
  ["enter", "Step begun or done"], ["y", "Confirm"], ["x", "No"], ["p", "Pause and go on"],
  ["r", "Say it again"],
];

export class Hands {
  constructor(link, watching, pageNow) {
    this.link = link;
    this.pageNow = pageNow;
    this.last = { code: "", at: -TWICE };
    this.setting = null;
    this.holding = null;
    this.pressed = null;
    this.pedals = read();
    if (watching) return;
    document.addEventListener("keydown", (event) => this.#down(event));
    document.addEventListener("keyup", (event) => this.#up(event));
    window.addEventListener("blur", () => this.#letGo());
    document.addEventListener("visibilitychange", () => this.#letGo());
    byId("pedal").addEventListener("click", () => this.#dialog());
    byId("pedals").addEventListener("close", () => { this.setting = null; });
  }

  async give(row, by) {
    const page = this.pageNow();
    if (this.link.state !== "live") return note("Not taken: no connection.");
    const answer = await this.link.give(row.cue, by, page.scene);
    return note(answer.ok ? "" : `Not taken: ${answer.why}.`);
  }

  #down(event) {
    if (this.setting !== null) return this.#learn(event);
    if (event.repeat) {
      if (event.code === this.holding?.code) event.preventDefault();
      return this.#still(event);
    }
    if (event.ctrlKey || event.altKey || event.metaKey) return undefined;
    if (document.body.dataset.kind !== "session" || document.querySelector("dialog[open]")) return undefined;
    if (event.target.closest?.("button, input, select, textarea, dialog, a")) return undefined;
    const role = this.pedals[event.code];
    if (role === "talk" || role === "all") {
      event.preventDefault();
      if (role === "all") this.pressed = { code: event.code, at: event.timeStamp };
      return this.#hold(event.code, role === "all");
    }
    return this.#press(event, role);
  }

  #press(event, role) {
    const key = role ?? (event.key === "Enter" || event.key === " " ? "enter" : event.key);
    const row = this.pageNow()?.phrases.find((each) => each.key === key);
    if (!row || !row.cue) return undefined;
    event.preventDefault();
    const twice = event.code === this.last.code && event.timeStamp - this.last.at < TWICE;
    this.last = { code: event.code, at: event.timeStamp };
    if (twice && row.tier !== "stop" && row.tier !== "alarm") return undefined;
    return this.give(row, role ? "pedal" : "key");
  }

  // Tapped, one pedal for all says yes to a question, goes on after a pause, else does the step.
  #tapped(event) {
    const page = this.pageNow();
    const role = page?.question ? "y" : page?.mode === "paused" ? "p" : "enter";
    return this.#press(event, role);
  }

  // While the foot is down it is told again and again, also after once it was not taken.
  #hold(code, mayBeTap = false) {
    if (this.holding) return undefined;
    const since = performance.now();
    const hold = { code, timer: 0, unheard: false };
    const tell = async () => {
      const lasts = performance.now() - since;
      if (lasts > LONGEST) return this.#letGo();
      const answer = await this.link.talk(true);
      if (this.holding !== hold) return undefined;
      if (!answer.ok && (!mayBeTap || lasts > TAP)) note(`Not heard: ${answer.why}.`);
      if (answer.ok && hold.unheard) note("");
      hold.unheard = !answer.ok;
      return undefined;
    };
    hold.timer = setInterval(tell, RENEW);
    this.holding = hold;
    return tell();
  }

  #letGo() {
    if (!this.holding) return;
    clearInterval(this.holding.timer);
    this.holding = null;
    this.link.talk(false);
  }

  #up(event) {
    if (event.code === this.holding?.code) this.#letGo();
    const pressed = this.pressed;
    if (event.code === pressed?.code) {
      this.pressed = null;
      if (event.timeStamp - pressed.at < TAP) this.#tapped(event);
    }
    this.#still(event);
  }

  // A pedal that is stood on bounces when it is let go: the pause counts from its last sign.
  #still(event) {
    if (event.code === this.last.code) this.last.at = event.timeStamp;
  }

  #dialog() {
    byId("pedals-list").replaceChildren(...ROLES.map(([key, text]) => {
      const code = Object.keys(this.pedals).find((each) => this.pedals[each] === key);
      const button = make("button", { type: "button", text: code ? "Change" : "Set" });
      button.addEventListener("click", () => {
        this.setting = key;
        say(byId("pedals-ask"), `Press your pedal now: ${text}.`);
        button.blur();
      });
      return make("li", {}, make("span", { text: `${text}: ${code ?? "no pedal"}` }), button);
    }));
    if (byId("pedals").open) return;
    document.activeElement?.blur(); // it is given back at the end, and the next press would press it
    byId("pedals").showModal();
  }

  #learn(event) {
    event.preventDefault();
    if (event.repeat) return;
    const role = this.setting;
    this.setting = null;
    if (event.code === "Escape") return;
    const code = event.code || event.key;
    for (const each of Object.keys(this.pedals)) {
      if (this.pedals[each] === role) delete this.pedals[each];
    }
    this.pedals[code] = role;
    try { localStorage.setItem("pedals", JSON.stringify(this.pedals)); } catch { /* private */ }
    say(byId("pedals-ask"), `${code} it is.`);
    this.#dialog();
  }
}

function read() {
  try {
    const stored = JSON.parse(localStorage.getItem("pedals") ?? "{}");
    const known = new Set(ROLES.map(([key]) => key));
    return Object.fromEntries(Object.entries(stored).filter(([, role]) => known.has(role)));
  } catch {
    return {};
  }
}

let clearing = 0;

function note(text) {
  say(byId("note"), text);
  clearTimeout(clearing);
  if (text) clearing = setTimeout(() => say(byId("note"), ""), 4000);
}
