// The partner's voice: the browser's own, and only a voice of this machine, since others send the text away.

export class Partner {
  // report(what, id): tells the server that something is being said ("playing") or over ("said").
  constructor(report, shown) {
    this.report = report;
    this.shown = shown;
    this.saying = null;
    speechSynthesis?.getVoices?.(); // they come late: asked for now, they are there when a line is due
  }

  get voice() {
    const own = (globalThis.speechSynthesis?.getVoices() ?? []).filter((v) => v.localService);
    return own.find((v) => v.lang.startsWith(navigator.language.slice(0, 2))) ?? own.find((v) => v.lang.startsWith("en")) ?? null;
  }

  act(act) {
    if (act.kind === "hush") this.hush();
    if (act.kind === "hold") this.shown.textContent = "Your pause has lasted. Press “Line?” if you want the word.";
    if (act.kind === "over") this.shown.textContent = "That was the end.";
    if (act.kind !== "say") return;
    this.shown.textContent = act.speaker ? `${act.speaker}: ${act.text}` : act.text;
    if (act.aloud) this.say(act);
  }

  say({ id, text }) {
    this.hush();
    this.saying = id;
    const over = () => {
      if (this.saying !== id) return;
      this.saying = null;
      this.report("said", id);
    };
    const voice = this.voice;
    if (!voice) { // it is read instead: 150 words a minute
      this.report("playing", id);
      this.timer = setTimeout(over, (text.split(/\s+/).length / 2.5) * 1000);
      return;
    }
    const said = new SpeechSynthesisUtterance(text);
    said.voice = voice;
    said.lang = voice.lang;
    said.onstart = () => this.report("playing", id);
    said.onend = said.onerror = over;
    speechSynthesis.speak(said);
  }

  hush() {
    clearTimeout(this.timer);
    globalThis.speechSynthesis?.cancel();
    if (this.saying === null) return;
    const id = this.saying;
    this.saying = null;
    this.report("said", id);
  }
}
