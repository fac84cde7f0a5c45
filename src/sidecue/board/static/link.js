// The line to the session: news comes in, cues go out. It comes every second at least: silence for
// longer than two and a half is a lost line, and one that was closed is lost after another second.
const SILENT = 2500;
const CLOSED = 1000;
const LOOK = 100;
const AGAIN = 1000;

export class Link {
  constructor(run, token) {
    this.run = run;
    this.token = token;
    this.state = "connecting";
    this.offset = null;
    this.heardAt = performance.now();
    this.onPage = this.onEar = this.onState = () => {};
    setInterval(() => this.#watch(), LOOK);
  }

  open() {
    this.stream?.close();
    this.offset = null;
    this.stream = new EventSource("/news");
    this.stream.addEventListener("hello", (event) => {
      // The program was started again: its page carries a new permission.
      if (JSON.parse(event.data).run !== this.run) location.reload();
      this.offset = null;
    });
    this.stream.addEventListener("news", (event) => this.#take(JSON.parse(event.data)));
    this.stream.addEventListener("error", () => {
      if (this.state === "over") return;
      this.heardAt = Math.min(this.heardAt, performance.now() - SILENT + CLOSED);
      if (this.stream.readyState === EventSource.CLOSED) setTimeout(() => this.open(), AGAIN);
    });
  }

  // Seconds on the session's clock; null while nobody can tell.
  now() {
    if (this.state !== "live" || this.offset === null) return null;
    return performance.now() / 1000 - this.offset;
  }

  async give(cue, by, scene) {
    return this.post("/cue", { cue, by, scene });
  }

  async talk(held) {
    return this.post("/talk", { held });
  }

  async post(path, data) {
    try {
      const answer = await fetch(path, {
        method: "POST",
        headers: { "content-type": "application/json", "x-board-token": this.token },
        body: JSON.stringify(data),
      });
      if (answer.ok) return { ok: true, data: await answer.json() };
      return { ok: false, why: await answer.text() };
    } catch {
      return { ok: false, why: "no connection" };
    }
  }

  #take(news) {
    this.heardAt = performance.now();
    const offset = this.heardAt / 1000 - news.now;
    // The quickest message is the truest; a new visit or a clock that was set starts afresh.
    if (this.offset === null || offset < this.offset || offset > this.offset + 2) {
      this.offset = offset;
    }
    if (news.over) {
      this.state = "over";
      this.stream.close();
    } else {
      this.state = "live";
    }
    this.onState(this.state, 0);
    if (news.page) this.onPage(news.page, news.number);
    if (news.ear) this.onEar(news.ear);
  }

  #watch() {
    const silent = performance.now() - this.heardAt;
    if (this.state === "over" || silent < SILENT) return;
    if (this.state !== "lost") {
      this.state = "lost";
      this.offset = null;
    }
    this.onState("lost", Math.round(silent / 1000));
    if (silent > 8 * SILENT && this.stream.readyState === EventSource.OPEN) {
      this.heardAt = performance.now() - SILENT;
      this.open();
    }
  }
}
