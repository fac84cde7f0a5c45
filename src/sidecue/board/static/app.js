// The page of one chair: listens to the news and shows it.
import { Link } from "./link.js";
import { RunView } from "./run.js";
import { SetupView } from "./setup.js";
import { Hands } from "./hands.js";
import { byId, say } from "./dom.js";

const root = document.documentElement;
const watching = root.dataset.token === "";
document.body.dataset.role = watching ? "watching" : "acting";
byId("pedal").hidden = watching;

const link = new Link(root.dataset.run, root.dataset.token);
const run = new RunView(link, watching);
const setup = new SetupView(link, watching);
const hands = new Hands(link, watching, () => run.page);
run.onPick = (cue) => hands.give(cue, "touch");

link.onPage = (page, number) => {
  document.body.dataset.kind = page.kind;
  byId("run").hidden = page.kind !== "session";
  byId("setup").hidden = page.kind !== "setup";
  if (page.kind === "session") run.show(page);
  if (page.kind === "setup") {
    setup.show(page);
    say(byId("reach"), `The visit: ${root.dataset.told}.`);
  }
  document.body.dataset.page = number; // how far this screen is
};
link.onEar = (ear) => run.showEar(ear);
link.onState = (state, age) => {
  const turned = document.body.dataset.link !== state;
  document.body.dataset.link = state;
  const text = {
    live: "",
    connecting: "Connecting to the session.",
    lost: `CONNECTION LOST for ${age} s. Nothing here is live: go by the clock on the wall.`,
    over: "This board is closed. What it shows is over.",
  }[state];
  say(byId("link"), text);
  run.live(state === "live");
  if (turned) run.refit();
};

const themes = ["", "light", "dark"];
const keep = (name, value) => { try { localStorage.setItem(name, value); } catch { /* private */ } };
const kept = (name) => { try { return localStorage.getItem(name) ?? ""; } catch { return ""; } };
const dress = (theme) => { if (theme) root.dataset.theme = theme; else delete root.dataset.theme; };
dress(kept("theme"));
byId("theme").addEventListener("click", () => {
  const next = themes[(themes.indexOf(root.dataset.theme ?? "") + 1) % themes.length];
  dress(next);
  keep("theme", next);
  byId("theme").blur();
});

// The tools come when a mouse is moved and go by themselves.
let resting = 0;
document.addEventListener("pointermove", () => {
  document.body.dataset.pointer = "moved";
  clearTimeout(resting);
  resting = setTimeout(() => delete document.body.dataset.pointer, 4000);
});

link.open();
