// Setting up a case before gloves go on: tooth, surfaces, choices; beside them the plan they make.
import { arch } from "./arch.js";
import { fill, make, picture } from "./dom.js";

const WAIT = 250;
const NUMBERS = [
  ["depth-mm", "Depth, mm"], ["remaining-dentine-mm", "Dentine left over the pulp, mm"],
  ["age-years", "Age, years"], ["weight-kg", "Weight, kg"],
  ["tip-distance-mm", "Light to floor, mm"],
];
const YES = [
  ["cervical", "At the gum margin"], ["cusp-tip", "Worn cusp tip"], ["deep-box", "Box below the gum"],
  ["bulk-fill", "Bulk fill"], ["strictly-necessary", "Amalgam strictly necessary"],
];
const NEEDED = ["tooth", "surfaces", "material", "isolation"];
const UNTOLD = { visit: "placing", sealer: "not told", replaces: "not told" };
const words = (id) => id.replaceAll("-", " ");
// The same case, whoever wrote it: sets in one order, nothing that is empty.
const same = (entry) => JSON.stringify(Object.keys(entry).sort()
  .filter((name) => entry[name] !== undefined && entry[name]?.length !== 0)
  .map((name) => [name, Array.isArray(entry[name]) ? [...entry[name]].sort() : entry[name]]));

export class SetupView {
  constructor(link, watching) {
    this.link = link;
    this.watching = watching;
    this.holder = document.getElementById("setup");
    this.asked = 0;
  }

  show(page) {
    document.title = "Set up a case · Sidecue board";
    if (this.watching) {
      this.talk = make("section", { class: "talk", "aria-live": "polite", "aria-label": "By voice" });
      this.holder.replaceChildren(
        make("h1", { text: "A case is being set up on the other screen." }), this.talk,
        make("dl", { class: "chosen" }, ...Object.entries(page.entry)
          .filter(([, value]) => value !== "" && value !== false && value?.length !== 0)
          .flatMap(([name, value]) => [make("dt", { text: words(name) }),
            make("dd", { text: value === true ? "yes" : [value].flat().map((each) => words(String(each))).join(", ") })])));
      this.#talk(page.talk);
      if (!page.talk) this.talk.hidden = true;
      return;
    }
    const known = this.form?.isConnected && !page.faults && same(page.entry) === same(this.entry);
    this.page = page;
    if (known) return this.#talk(page.talk);
    this.entry = { ...page.entry, flags: [...(page.entry.flags ?? [])] };
    this.warningsTold = this.voiceTold = page.talk?.closed.includes("flags") ?? false;
    this.form = make("form", { class: "case-form", autocomplete: "off" });
    this.sheet = make("section", { class: "sheet", "aria-live": "polite", "aria-label": "Plan" });
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.#start(); });
    this.#build();
    this.talk = make("section", { class: "talk", "aria-live": "polite", "aria-label": "By voice" });
    this.holder.replaceChildren(
      make("h1", { text: `Set up a case · ${page.practice}` }), this.talk,
      make("div", { class: "setup-columns" }, this.form, this.sheet));
    this.#talk(page.talk);
    if (page.faults) this.#faults(page.faults);
    else this.#changed();
    return undefined;
  }

  // What the tool said and heard, and what may be said: the same as beside the chair.
  #talk(talk) {
    this.talk.hidden = !talk?.said;
    if (!talk) return;
    const told = talk.closed.includes("flags");
    if (told && !this.voiceTold && this.allTold) { // said beside the chair: nothing is left to tick
      this.warningsTold = this.allTold.checked = true;
      this.#changed();
    }
    this.voiceTold = told;
    fill(this.talk, JSON.stringify(talk), () => {
      const { heard } = talk;
      const verdict = heard.taken ? "" : ` not taken: ${heard.verdict}`;
      return [
        make("p", { class: talk.question ? "talk-said asks" : "talk-said", text: talk.said }),
        make("p", { class: "talk-heard" }, ...(heard.words || heard.verdict ? [
          make("strong", { text: `${heard.taken ? "\u2713" : "\u2715"}\u00a0“${heard.words || "nothing clear"}”` }), verdict] : [])),
        make("p", { class: "talk-say" },
          make("span", { class: "label", text: talk.address ? `Say “${talk.address}”, then ` : "Just say " }),
          talk.phrases.join(" · ")),
      ];
    });
  }

  #build() {
    this.tooth = this.#field("tooth", "Tooth", { required: true, size: 6 });
    this.arch = arch(this.page.teeth, (id) => { this.tooth.value = id; this.#set("tooth", id); });
    this.surfaces = this.#field("surfaces", "Surfaces", { required: true, size: 8 });
    const letters = make("div", { class: "letters", role: "group", "aria-label": "Surfaces" });
    this.letters = letters;
    const choices = Object.entries(this.page.choices)
      .map(([name, values]) => this.#choice(name, words(name), values));
    const solutions = this.#choice("anaesthetic", "anaesthetic", ["none", ...this.page.anaesthetics]);
    const numbers = NUMBERS.map(([name, text]) => this.#number(name, text));
    const clamp = this.#field("clamp", "Clamp, by its number").closest("label");
    const missing = this.#missing();
    const yes = make("fieldset", { class: "ticks" }, make("legend", { text: "The cavity" }),
      ...YES.map(([name, text]) => this.#tick(text, this.entry[name] === true,
        (on) => this.#set(name, on || undefined), name)));
    const flags = make("fieldset", { class: "ticks" }, make("legend", { text: "The patient" }),
      ...this.page.flags.map((flag) => this.#tick(words(flag), this.entry.flags.includes(flag),
        (on) => {
          const kept = this.entry.flags.filter((each) => each !== flag);
          this.#set("flags", on ? [...kept, flag] : kept);
        })), this.#tick("No more warnings", this.warningsTold, (on) => {
        this.warningsTold = on;
        this.#changed();
      }, "no-more-warnings"));
    this.allTold = flags.querySelector("[name=no-more-warnings]");
    this.form.append(
      make("div", { class: "where" }, this.tooth.closest("label"), this.surfaces.closest("label"), letters),
      this.arch.element, make("div", { class: "fields" }, ...choices, solutions, ...numbers, missing, clamp), yes, flags);
    this.#letters();
  }

  #field(name, text, more) {
    const input = make("input", { type: "text", name, maxlength: 12, ...more });
    input.value = this.entry[name] ?? "";
    input.addEventListener("input", () => this.#set(name, input.value.trim() || undefined));
    make("label", { class: "field" }, make("span", { text }), input);
    return input;
  }

  // Teeth that are not there, as they are written, one after another.
  #missing() {
    const input = make("input", { type: "text", name: "missing", size: 12, maxlength: 120 });
    input.value = (this.entry.missing ?? []).join(" ");
    input.addEventListener("input", () => {
      const teeth = input.value.toUpperCase().split(/[\s,;]+/).filter((each) => each !== "");
      this.#set("missing", teeth.length ? teeth : undefined);
    });
    return make("label", { class: "field" }, make("span", { text: "Missing teeth" }), input);
  }

  #number(name, text) {
    const input = make("input", { type: "text", inputmode: "decimal", name, size: 6, maxlength: 8 });
    input.value = this.entry[name] ?? "";
    input.addEventListener("input", () => {
      const value = input.value.trim().replace(",", ".");
      this.#set(name, value === "" ? undefined : Number.isNaN(Number(value)) ? value : Number(value));
    });
    return make("label", { class: "field" }, make("span", { text }), input);
  }

  #choice(name, text, values) {
    const select = make("select", { name, required: NEEDED.includes(name) },
      make("option", { value: "", text: NEEDED.includes(name) ? "choose" : UNTOLD[name] ?? "as the practice does" }),
      ...values.map((value) => make("option", { value, text: words(value) })));
    select.value = this.entry[name] ?? "";
    select.addEventListener("change", () => this.#set(name, select.value || undefined));
    return make("label", { class: "field" }, make("span", { text }), select);
  }

  #tick(text, on, change, name = false) {
    const input = make("input", { type: "checkbox", name, checked: on });
    input.addEventListener("change", () => change(input.checked));
    return make("label", { class: "tick" }, input, make("span", { text }));
  }

  #set(name, value) {
    if (value === undefined) delete this.entry[name];
    else this.entry[name] = value;
    if (name === "tooth" || name === "surfaces") this.#letters();
    this.#changed();
  }

  // The letters this tooth has, as toggles; typed letters and toggles are the same thing.
  #letters() {
    const tooth = this.page.teeth.find((each) => each.id === (this.entry.tooth ?? "").toUpperCase());
    this.arch.mark(tooth?.id);
    const upper = tooth && tooth.corner < 3;
    const names = !tooth ? [] : tooth.posterior
      ? ["Mesial", "Occlusal", "Distal", "Buccal", upper ? "Palatal" : "Lingual"]
      : ["Mesial", "Incisal", "Distal", "Facial", upper ? "Palatal" : "Lingual"];
    const chosen = (this.entry.surfaces ?? "").toUpperCase();
    fill(this.letters, JSON.stringify([names, chosen]), () => names.map((name) => {
      const letter = name[0];
      const on = chosen.includes(letter);
      const button = make("button", { type: "button", "aria-pressed": String(on), text: name });
      button.addEventListener("click", () => {
        const next = on ? chosen.replace(letter, "") : chosen + letter;
        this.surfaces.value = next;
        this.#set("surfaces", next || undefined);
        [...this.letters.children].find((each) => each.textContent === name)?.focus();
      });
      return button;
    }));
  }

  #changed() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#plan(), WAIT);
  }

  #asked(what) {
    return { do: what, entry: this.entry, told: this.warningsTold ? ["flags"] : [] };
  }

  async #plan() {
    const number = (this.asked += 1);
    const answer = await this.link.post("/case", this.#asked("plan"));
    if (number !== this.asked) return undefined;
    if (!answer.ok) return this.#faults([answer.why]);
    if (answer.data.faults) return this.#faults(answer.data.faults);
    if (answer.data.missing) return this.#faults([], `Still to choose: ${answer.data.missing.join(", ")}.`);
    return this.#show(answer.data);
  }

  async #start() {
    const answer = await this.link.post("/case", this.#asked("start"));
    if (!answer.ok) this.#faults([answer.why]);
    else if (answer.data.faults) this.#faults(answer.data.faults);
  }

  // An open question, and where its answer goes: to its field on this page, or into a file.
  #open({ ask, mend, field }) {
    const input = field && this.form.querySelector(`[name="${field}"]`);
    if (!input) return make("li", { class: "fault", text: `${ask} → ${mend}` });
    const go = make("button", { type: "button", class: "answer", text: "Answer" });
    go.addEventListener("click", () => input.focus());
    return make("li", { class: "fault" }, `${ask} `, go);
  }

  #faults(faults, hint = "") {
    this.sheet.replaceChildren(...faults.map((text) => make("p", { class: "fault", text })),
      ...(hint ? [make("p", { class: "hint", text: hint })] : []));
  }

  #show(plan) {
    const list = (title, texts, kind = "") => texts.length
      ? [make("h2", { text: title }), make("ul", { class: "list" }, ...texts.map((text) => make("li", { class: kind, text })))]
      : [];
    const open = plan.questions.map((each) => this.#open(each));
    const start = make("button", { type: "submit", class: "start", disabled: !plan.startable,
      text: plan.startable ? `Start: ${plan.steps} steps` : "Answer the questions first" });
    start.addEventListener("click", () => this.#start());
    this.sheet.replaceChildren(
      make("h2", { class: "plan-title", text: plan.title }),
      make("p", { class: "plan-case", text: plan.case }),
      make("p", { text: `Tooth ${plan.tooth}.` }),
      ...list("This case is refused", plan.blocks, "fault"),
      ...(open.length ? [make("h2", { text: "Answer first" }), make("ul", { class: "list" }, ...open)] : []),
      ...list("Watch", plan.warnings),
      start,
      make("p", { class: "hint", text: "It reminds and records. Local rules, the makers' instructions and the licensed clinician win." }),
      make("h2", { text: `Tray: ${plan.tray.length} things, in order of first use` }),
      make("ul", { class: "tray-list" }, ...plan.tray.map((item) =>
        make("li", {}, picture(item), make("span", { text: item.name })))),
      ...list("Materials", plan.materials));
  }
}
