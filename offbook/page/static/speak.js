// Speaking: one button, the level in words, and what was said safe on disk while it is said.

import { ask, Sender, Trouble } from "./send.js";

const box = document.getElementById("speak");
const { token } = box.dataset;
const byId = (id) => document.getElementById(id);
const go = byId("go"), state = byId("state"), timer = byId("timer"), level = byId("level"), words = byId("level-words");
const microphone = byId("microphone"), trouble = byId("trouble"), speech = byId("speech");
const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
const say = (text) => { if (state.textContent !== text) state.textContent = text; };

let sound = null; // {stream, context, node}: the open microphone
let sender = null; // while recording
let capture = null; // {key, spell, seconds}: what is being recorded
let ending = false;

byId("controls").hidden = false;
for (const button of document.querySelectorAll("[data-go-on]")) {
  button.hidden = false;
  button.addEventListener("click", () => begin(button.dataset.goOn));
}

function tell(error) {
  trouble.hidden = !error;
  if (!error) return;
  const upper = (text) => text.charAt(0).toUpperCase() + text.slice(1).replace(/\.?$/, ".");
  const [what, then] = trouble.querySelectorAll("p");
  what.textContent = upper(error.what ?? "something went wrong");
  then.textContent = upper(error.then_ ?? "load the page again");
}

// The text while speaking: shown, first letters, hidden; the choice is remembered.
for (const word of speech.querySelectorAll(".word")) {
  const [, before, first, rest] = /^(\P{L}*)(\p{L}?)(.*)$/su.exec(word.textContent);
  const hidden = document.createElement("span");
  hidden.className = "rest";
  hidden.textContent = rest;
  word.replaceChildren(before + first, hidden);
}
function showText() {
  const chosen = document.querySelector("input[name=show]:checked").value;
  speech.classList.toggle("veiled", chosen === "veiled");
  speech.classList.toggle("first-letters", chosen === "first-letters");
  localStorage.setItem("offbook text", chosen);
}
const remembered = localStorage.getItem("offbook text");
for (const radio of document.querySelectorAll("input[name=show]")) {
  if (radio.value === remembered) radio.checked = true;
  radio.addEventListener("change", showText);
}
showText();

// The microphone -----------------------------------------------------------------------------------

async function openMicrophone() {
  if (!navigator.mediaDevices?.getUserMedia) {
    throw new Trouble("this browser gives no microphone to a page", "use another browser, or give a recording below");
  }
  const wanted = { echoCancellation: false, noiseSuppression: false, autoGainControl: true, channelCount: 1 };
  if (microphone.value) wanted.deviceId = { exact: microphone.value };
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ audio: wanted });
  } catch (error) {
    throw {
      NotAllowedError: new Trouble("the browser does not let this page use the microphone",
        "allow it beside the address of the page and press Begin again, or give a recording below"),
      NotFoundError: new Trouble("there is no microphone", "plug one in, or give a recording below"),
      NotReadableError: new Trouble("another program holds the microphone", "close it, and press Begin again"),
      OverconstrainedError: new Trouble("that microphone is gone", "choose another one"),
    }[error.name] ?? new Trouble(`the microphone does not open (${error.name})`, "choose another one");
  }
  const context = new AudioContext();
  await context.resume();
  await context.audioWorklet.addModule(box.dataset.catch);
  const size = Math.round(Number(box.dataset.seconds) * context.sampleRate);
  const node = new AudioWorkletNode(context, "catch", { numberOfOutputs: 0, processorOptions: { size } });
  node.port.onmessage = ({ data }) => caught(data.piece, data.last);
  context.createMediaStreamSource(stream).connect(node);
  stream.getAudioTracks()[0].addEventListener("ended", unplugged);
  sound = { stream, context, node, rate: context.sampleRate };
  listMicrophones();
}

function closeMicrophone() {
  if (!sound) return;
  for (const track of sound.stream.getTracks()) track.stop();
  sound.context.close();
  sound = null;
}

async function listMicrophones() {
  const chosen = microphone.value;
  const found = (await navigator.mediaDevices.enumerateDevices()).filter((d) => d.kind === "audioinput" && d.deviceId);
  microphone.replaceChildren(new Option("the usual one", ""), ...found.map((d, n) => new Option(d.label || `microphone ${n + 1}`, d.deviceId)));
  microphone.value = [...microphone.options].some((o) => o.value === chosen) ? chosen : "";
}
navigator.mediaDevices?.addEventListener?.("devicechange", listMicrophones);
microphone.addEventListener("change", async () => {
  if (!sound || sender) return;
  closeMicrophone();
  await tryMicrophone();
});

// The level in words: said when it has been so for a second and a half, never more often.
const levels = [];
let meant = "", since = 0;
function measure(piece) {
  let sum = 0, peak = 0;
  for (const s of piece) { sum += s * s; peak = Math.max(peak, Math.abs(s)); }
  const db = (x) => (x > 0 ? Math.max(-100, 20 * Math.log10(x)) : -100);
  const now = { level: db(Math.sqrt(sum / Math.max(1, piece.length)) / 32768), peak: db(peak / 32768) };
  levels.push(now);
  if (levels.length > 40) levels.shift();
  level.value = Math.max(-60, now.level);
  const sorted = levels.map((l) => l.level).sort((a, b) => a - b);
  const loud = sorted[Math.floor(0.9 * (sorted.length - 1))], low = sorted[Math.floor(0.1 * (sorted.length - 1))];
  let text = "The level is good.";
  if (levels.slice(-8).some((l) => l.peak > -0.1)) text = "Too loud: it clips. Move back from the microphone.";
  else if (levels.length < 8) text = "";
  else if (loud < -45) text = "Too quiet: come closer, or choose another microphone.";
  else if (levels.length >= 20 && low > -42 && loud - low < 14) text = "There is noise behind you: find a quieter place, or come closer.";
  if (text !== meant) { meant = text; since = levels.length ? performance.now() : 0; }
  if (performance.now() - since > 1500 && words.textContent !== meant) words.textContent = meant;
}

async function tryMicrophone() {
  tell(null);
  try { await openMicrophone(); } catch (error) { tell(error); return; }
  say("The microphone is open. Nothing is recorded yet.");
  byId("try").textContent = "Close the microphone";
}
byId("try").addEventListener("click", () => {
  if (sound && !sender) {
    closeMicrophone();
    say("Not recording.");
    byId("try").textContent = "Try the microphone";
  } else if (!sound) tryMicrophone();
});

// Recording ----------------------------------------------------------------------------------------

async function begin(key) {
  tell(null);
  go.disabled = true;
  try {
    if (!sound) await openMicrophone();
    const form = new URLSearchParams({ rate: String(sound.rate) });
    capture = await ask(token, key ? `${box.dataset.home}capture/${key}/go-on` : box.dataset.begin, form);
  } catch (error) {
    closeMicrophone();
    tell(error instanceof Trouble ? error : new Trouble("offbook does not answer", "start it again in the terminal"));
    go.disabled = false;
    return;
  }
  for (const left of document.querySelectorAll("[data-left]")) left.remove();
  ending = false;
  const at = `${box.dataset.home}capture/${capture.key}/${capture.spell}/`;
  sender = new Sender(token, (number, last) => `${at}${number}${last ? "?last=1" : ""}`, heard, stumbled);
  go.disabled = false;
  go.textContent = "Stop";
  go.setAttribute("aria-pressed", "true");
  byId("try").hidden = true;
  microphone.disabled = true;
  say("Recording.");
  navigator.wakeLock?.request("screen").catch(() => {});
}

function caught(piece, last) {
  if (piece.length) measure(piece);
  if (!sender) return;
  if (piece.length) sender.add(piece.buffer.slice(0, piece.byteLength), last);
  timer.textContent = clock(capture.seconds + (sender.made * Number(box.dataset.seconds)));
  if (last) finish();
}

function heard(told) {
  capture.safe = told.seconds;
  const word = speech.querySelector(`.word[data-i="${told.place - 1}"]`);
  for (const old of speech.querySelectorAll(".place")) if (old !== word) old.classList.remove("place");
  word?.classList.add("place");
  if (told.done && byId("by-itself").checked) stop();
}

function stumbled(error, lost) {
  if (error) { tell(error); stop(); return; }
  if (lost) {
    tell(new Trouble(`offbook does not answer; everything up to ${clock(capture.safe ?? capture.seconds)} is safe on disk`,
      "keep this window open: what you say now is sent when it answers. If it has stopped, start it again and it offers to go on"));
  } else {
    tell(null);
    say("Recording.");
  }
}

function stop() {
  if (!sender || ending) return;
  ending = true;
  go.disabled = true;
  say("Stopped.");
  sound.node.port.postMessage("flush");
}

async function finish() {
  closeMicrophone();
  byId("hearing").hidden = false;
  byId("controls").hidden = true;
  try {
    await sender.flush();
    await follow(await ask(token, `${box.dataset.home}capture/${capture.key}/end`));
  } catch (error) {
    over();
    tell(error instanceof Trouble ? error : new Trouble("offbook does not answer; what you said is safe on disk",
      "start it again, and it offers to hear it"));
  }
}

function over() {
  sender = null;
  byId("hearing").hidden = true;
  byId("controls").hidden = false;
  go.textContent = "Begin";
  go.removeAttribute("aria-pressed");
  go.disabled = microphone.disabled = false;
  byId("try").hidden = false;
  byId("try").textContent = "Try the microphone";
  say("Not recording.");
}

// Waits until a recording is heard, and goes to its notes.
async function follow(told) {
  byId("stop-hearing").onclick = () => ask(token, `${told.at}/stop`).catch(() => {});
  while (["waiting", "hearing"].includes(told.state)) {
    byId("share").value = told.share;
    await new Promise((done) => setTimeout(done, 250));
    told = await (await fetch(told.at, { headers: { Accept: "application/json" } })).json();
  }
  if (told.notes) {
    sender = null;
    location.assign(told.notes);
    return;
  }
  throw new Trouble(told.what ?? "this was not heard", told.do ?? "try again");
}

function unplugged() {
  if (!sender || ending) { closeMicrophone(); return; }
  // What there is stays on disk; the page, loaded again, offers to go on.
  const safe = capture.safe ?? capture.seconds;
  sender.dead = new Trouble("the microphone is gone", "plug it in");
  closeMicrophone();
  over();
  tell(new Trouble(`the microphone is gone; everything up to ${clock(safe)} is kept`,
    "plug it in again and load this page: it offers to go on"));
}

go.addEventListener("click", () => { if (sender) stop(); else begin(null); });
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && sender) stop(); });
addEventListener("beforeunload", (event) => { if (sender && !ending) event.preventDefault(); });

// Recordings made elsewhere ------------------------------------------------------------------------

const drop = byId("drop"), file = byId("recording");
for (const name of ["dragover", "dragleave", "drop"]) {
  drop.addEventListener(name, (event) => {
    event.preventDefault();
    drop.classList.toggle("over-it", name === "dragover");
    if (name === "drop" && event.dataTransfer.files.length) send(event.dataTransfer.files[0]);
  });
}
drop.addEventListener("submit", (event) => {
  event.preventDefault();
  if (file.files.length) send(file.files[0]);
  else tell(new Trouble("no recording was chosen", "choose a file, or drop it onto the page"));
});

async function send(recording) {
  tell(null);
  const bar = byId("sending"), size = Number(box.dataset.slice);
  bar.hidden = false;
  say("Sending the recording to offbook on this machine.");
  try {
    const { key } = await ask(token, box.dataset.upload, new URLSearchParams({ name: recording.name }));
    for (let at = 0, number = 0; at < recording.size || number === 0; number += 1, at += size) {
      await ask(token, `${box.dataset.home}upload/${key}/${number}`, recording.slice(at, at + size));
      bar.value = Math.min(1, (at + size) / recording.size);
    }
    const told = await ask(token, `${box.dataset.home}upload/${key}/end`);
    location.assign(told.at);
  } catch (error) {
    bar.hidden = true;
    say("Not recording.");
    tell(error instanceof Trouble ? error : new Trouble("the recording did not arrive", "give it again"));
  }
}
