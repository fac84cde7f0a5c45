// The page during a visit.
import { byId, fill, make, picture, prefetch, say } from "./dom.js";
import { Clocks } from "./timers.js";
import { fit } from "./fit.js";

const MODES = { paused: "PAUSED", emergency: "EMERGENCY", finished: "FINISHED", ready: "READY" };
const EARS = {
  listening: "listening", held: "pedal held: just speak", speaking: "speaking: only stops and alarms count", lost: "MICROPHONE LOST",
  none: "keys only, no microphone", unknown: "not live",
};
const MAIN = 3;
const LEVELS = 5;

export class RunView {
  constructor(link, watching) {
    this.link = link;
    this.watching = watching;
    this.page = null;
    this.ear = { state: "none", level: 0 };
    this.onPick = () => {};
    this.clocks = new Clocks(byId("clocks"));
    byId("level").append(...Array.from({ length: LEVELS }, () => make("i")));
    setInterval(() => {
      if (this.clocks.tick(this.link.now())) fit(true);
      this.#within();
    }, 200);
    window.addEventListener("resize", () => fit());
  }

  show(page) {
    const rest = JSON.stringify({ ...page, heard: null, said: null });
    const same = rest === this.rest;
    this.rest = rest;
    this.page = page;
    document.body.dataset.mode = page.question ? "asking" : page.mode;
    document.title = `${page.step.name} · ${page.case}`;
    say(byId("case"), page.case);
    say(byId("tooth"), page.tooth);
    this.#progress(page.progress);
    this.#step(page);
    byId("hand").dataset.count = String(page.hand.length);
    fill(byId("hand"), JSON.stringify(page.hand), () => items(page.hand, "nothing new to hand"));
    fill(byId("following"), JSON.stringify(page.following), () => items(page.following, "nothing"));
    prefetch(page.following);
    say(byId("why"), page.hand.length || page.question ? "" : page.step.why);
    this.clocks.show(page.timers);
    this.clocks.tick(this.link.now());
    document.body.toggleAttribute("data-clocks", page.timers.length > 0);
    byId("clocks").hidden = page.timers.length === 0;
    this.#recorded(page);
    this.#heard(page);
    this.#phrases(page);
    fit(same);
  }

  // What stands above or below has come or gone.
  refit() {
    if (this.page) fit();
  }

  showEar(ear) {
    this.ear = ear;
    this.#drawEar();
  }

  live(live) {
    if (live === this.isLive) return;
    this.isLive = live;
    this.clocks.tick(this.link.now());
    this.#drawEar();
  }

  #drawEar() {
    const lost = this.page?.lost.includes("loudspeaker") ? " · LOUDSPEAKER LOST" : "";
    const state = this.isLive ? this.ear.state : "unknown";
    const ear = byId("ear");
    const high = ear.offsetHeight;
    ear.dataset.state = state;
    say(byId("ear-state"), (EARS[state] ?? state) + lost);
    if (ear.offsetHeight !== high) fit(); // a lost microphone is told in larger letters
    const on = this.isLive ? Math.ceil(this.ear.level / 2) : 0;
    [...byId("level").children].forEach((bar, n) => bar.classList.toggle("on", n < on));
  }

  #progress({ at, of, skipped }) {
    const left = skipped.length ? ` · left out: ${skipped.join(", ")}` : "";
    say(byId("count"), `${at} of ${of}${left}`);
    const trail = byId("trail");
    trail.setAttribute("aria-valuemax", of);
    trail.setAttribute("aria-valuenow", at);
    trail.style.setProperty("--done", `${(100 * (at - 1)) / Math.max(1, of - 1)}%`);
  }

  #step(page) {
    const mode = byId("mode");
    mode.hidden = page.mode === "running" && !page.question;
    say(mode, page.question ? "ANSWER" : MODES[page.mode] ?? "");
    byId("within").hidden = !page.question || page.lapses === null;
    this.#within();
    const lines = page.question ? [page.question]
      : page.emergency.length ? page.emergency
      : page.mode === "finished" ? ["The visit is complete."] : [page.step.say];
    fill(byId("say"), JSON.stringify(lines), () => lines.map((text) => make("span", { text })));
    const cautions = page.wrote?.length ? page.wrote.map((name) => `Wrote ${name}`)
      : page.question || page.emergency.length ? [] : page.cautions;
    byId("cautions").dataset.count = String(cautions.length);
    fill(byId("cautions"), JSON.stringify(cautions),
      () => cautions.map((text) => make("li", { text })));
  }

  // How long a question waits: silence means no.
  #within() {
    if (byId("within").hidden) return;
    const now = this.link.now();
    const left = now === null ? "\u2013" : Math.max(0, Math.ceil(this.page.lapses - now));
    say(byId("within"), `within ${left} s, else no`);
  }

  // What was recorded by voice, the count of anaesthetic, and what this step still asks for.
  #recorded({ values, count, count_lines: lines, asked }) {
    const rows = [
      ...asked.map((text) => make("li", { class: "asked", text: `Still to tell: ${text}` })),
      ...(count ? [make("li", { class: count.startsWith("OVER") ? "over" : "count",
        title: lines.join("\n"), text: count })] : []),
      ...values.filter((text) => !/cartridge/i.test(text)).map((text) => make("li", { text })),
    ];
    byId("recorded").hidden = rows.length === 0;
    fill(byId("recorded"), JSON.stringify([values, count, asked]), () => rows);
  }

  #heard({ heard, said }) {
    const words = heard.words ? `“${heard.words}”` : "nothing clear";
    const something = heard.words || heard.verdict;
    byId("heard").dataset.taken = something ? String(heard.taken) : "none";
    fill(byId("heard"), JSON.stringify([heard, said]), () => something ? [
      make("span", { class: "words", text: words }),
      make("span", { class: "verdict", text: `${heard.taken ? "" : "not taken: "}${heard.verdict}` }),
    ] : [make("span", { class: "words", text: "nothing heard yet" })]);
  }

  #phrases(page) {
    const wanted = page.question ? ["answer"] : page.asked.length ? ["now", "value"] : ["now"];
    const main = page.phrases.filter((each) => wanted.includes(each.group)).slice(0, MAIN);
    const more = page.phrases.filter((each) => !main.includes(each) && each.group !== "later");
    more.sort((a, b) => (b.group === "emergency") - (a.group === "emergency"));
    say(byId("say-title"), !main.length ? "" : page.address ? `Say “${page.address}”, then` : "Just say");
    fill(byId("main-phrases"), JSON.stringify(main), () => main.map((each) => this.#phrase(each)));
    fill(byId("more-phrases"), JSON.stringify(more), () => more.map((each) => this.#phrase(each)));
    if (page.wrote) fill(byId("main-phrases"), "next", () => [this.#next()]);
  }

  #phrase(each) {
    const key = each.key === "enter" ? "Enter" : each.key;
    const parts = [make("span", { class: "phrase", text: each.phrase })];
    if (key && !this.watching) parts.push(make("kbd", { text: key }));
    if (each.choices && !this.watching) {
      const button = make("button", { type: "button", title: each.means }, ...parts);
      button.addEventListener("click", () => this.#choose(each));
      return make("li", { class: each.group }, button);
    }
    if (this.watching || !each.cue) {
      return make("li", { class: each.group, title: each.means }, ...parts);
    }
    const button = make("button", { type: "button", title: each.means }, ...parts);
    button.addEventListener("click", () => { button.blur(); this.onPick(each); });
    return make("li", { class: each.group }, button);
  }

  // A slot of many values, each a button, for hands that cannot say it.
  #choose(slot) {
    byId("choices-list").replaceChildren(...slot.choices.map((each) => {
      const button = make("button", { type: "button", text: each.phrase });
      button.addEventListener("click", () => { byId("choices").close(); this.onPick(each); });
      return make("li", {}, button);
    }));
    document.activeElement?.blur(); // it is given back at the end, and the next press would press it
    byId("choices").showModal();
  }

  #next() {
    if (this.watching) return make("li", { text: "The record is written." });
    const button = make("button", { type: "button", text: "Set up the next case" });
    button.addEventListener("click", () => this.link.post("/case", { do: "next" }));
    return make("li", {}, button);
  }
}

function items(list, nothing) {
  if (!list.length) return [make("li", { class: "nothing", text: nothing })];
  return list.map((item) => make("li", {}, picture(item), make("span", { class: "name", text: item.name })));
}
