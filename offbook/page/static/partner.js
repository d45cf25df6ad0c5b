// The partner's voice: one of the browser's, and only one that this machine has, because others send the text away.

const READING = 2.5; // words a second, 150 a minute, at which somebody reads a line that is only shown; set by hand
const SECOND = 1000; // ms

export class Partner {
  // report(what, id): tells the server that something is being said ("playing") or over ("said").
  constructor(report, shown) {
    this.report = report;
    this.shown = shown;
    this.saying = null;
    speechSynthesis?.getVoices?.(); // the browser loads them slowly: asked for now, they are there when a line is due
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
    if (!voice) { // the performer reads it
      this.report("playing", id);
      this.timer = setTimeout(over, (text.split(/\s+/).length / READING) * SECOND);
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
