// Speaking: one button, the level in words, and every piece of sound on the disk while the performer speaks.

import { openMicrophone } from "./microphone.js";
import { Partner } from "./partner.js";
import { ask, askUntilAnswered, lookedUp, pause, Sender, Trouble } from "./send.js";

const box = document.getElementById("speak");
const { token } = box.dataset;
const byId = (id) => document.getElementById(id);
const go = byId("go"), state = byId("state"), timer = byId("timer"), level = byId("level"), words = byId("level-words");
const microphone = byId("microphone"), trouble = byId("trouble"), speech = byId("speech");
const MINUTE = 60; // seconds
const clock = (s) => `${Math.floor(s / MINUTE)}:${String(Math.floor(s % MINUTE)).padStart(2, "0")}`;
const say = (text) => { if (state.textContent !== text) state.textContent = text; };

let sound = null; // the open microphone
let partner = null; // who gives cues and prompts, while recording
let sender = null; // while recording
let capture = null; // {key, spell, seconds}: what is being recorded
let ending = false;
let early = null; // what was said between the press of the button and the server's answer
let lastPiece = 0; // when sound last came from the microphone, ms

byId("controls").hidden = false;
// In a narrow window (as narrow as in page.css) the speech comes first, and the settings can be opened.
if (matchMedia("(max-width: 46rem)").matches) byId("how").open = false;
// Where a recording was broken off, the page offers to go on with it.
function offer(left) {
  const button = left.querySelector("[data-go-on]");
  button.hidden = false;
  button.addEventListener("click", () => begin(button.dataset.goOn));
}
for (const left of document.querySelectorAll("[data-left]")) offer(left);

// Shows what the page would offer if it were loaded again.
async function offerAgain() {
  const fresh = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html");
  if (sender) return; // begun anew meanwhile
  for (const old of document.querySelectorAll("[data-left]")) old.remove();
  const found = [...fresh.querySelectorAll("[data-left]")].map((left) => document.adoptNode(left));
  document.querySelector(".desk").prepend(...found);
  found.forEach(offer);
}
// A page that is loaded again is often asked for while the old one still sends. The server holds back its answer until
// it knows that the old one is closed, or has had no sound from it for some seconds.
const HELD = 60_000; // ms; set by hand, well over what the server holds an answer back
async function offerWhenClosed(key) {
  let told;
  do {
    told = await lookedUp(`${box.dataset.home}capture/${key}/closed`, () => {}, HELD);
  } while (!told.closed);
  await offerAgain();
}
if (box.dataset.open) offerWhenClosed(box.dataset.open).catch(() => {}); // loaded again, the page offers it

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

async function open() {
  sound = await openMicrophone({
    module: box.dataset.catch, seconds: Number(box.dataset.seconds), device: microphone.value,
    partner: withPartner(), piece: caught, gone: () => unplugged(),
  });
  listMicrophones();
}

function closeMicrophone() {
  if (!sound) return;
  sound.close();
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

// The level in words. A sentence is shown when it has been true for a while, so that the text does not flicker.
// All of these are set by hand; levels are decibels of full scale, and a piece is a quarter of a second.
const FULL_SCALE = 32768; // of a 16-bit sample
const SILENCE = -100; // the level of digital silence, which has no logarithm
const FAINTEST = Number(level.min); // where the meter begins
const AMPLITUDE_DB = 20; // decibels are twenty times the logarithm of a ratio of amplitudes
const REMEMBERED = 40, AT_FIRST = 8, ENOUGH = 20; // pieces: looked back on, before anything is said, before noise is named
const LOUD_SHARE = 0.9, SOFT_SHARE = 0.1; // of the pieces: the loud and the soft level lie there
const CLIPPED = -0.1, TOO_QUIET = -45; // a peak that is cut off; a voice that is too far away
const NOISY = -42, VOICE_ABOVE = 14; // the soft level in a noisy room; how far a voice should be above it
const TRUE_FOR = 1500; // ms
const levels = [];
let meant = "", since = 0;
function decibels(x) { return x > 0 ? Math.max(SILENCE, AMPLITUDE_DB * Math.log10(x)) : SILENCE; }
function measure(piece) {
  let sum = 0, peak = 0;
  for (const s of piece) { sum += s * s; peak = Math.max(peak, Math.abs(s)); }
  const now = { level: decibels(Math.sqrt(sum / Math.max(1, piece.length)) / FULL_SCALE), peak: decibels(peak / FULL_SCALE) };
  levels.push(now);
  if (levels.length > REMEMBERED) levels.shift();
  level.value = Math.max(FAINTEST, now.level);
  const sorted = levels.map((l) => l.level).sort((a, b) => a - b);
  const at = (share) => sorted[Math.floor(share * (sorted.length - 1))];
  const loud = at(LOUD_SHARE), soft = at(SOFT_SHARE);
  let text = "The level is good.";
  if (levels.slice(-AT_FIRST).some((l) => l.peak > CLIPPED)) text = "Too loud: the sound is cut off. Move back from the microphone.";
  else if (levels.length < AT_FIRST) text = "";
  else if (loud < TOO_QUIET) text = "Too quiet: come closer, or choose another microphone.";
  else if (levels.length >= ENOUGH && soft > NOISY && loud - soft < VOICE_ABOVE) text = "There is noise behind you: find a quieter place, or come closer.";
  if (text !== meant) { meant = text; since = levels.length ? performance.now() : 0; }
  if (performance.now() - since > TRUE_FOR && words.textContent !== meant) words.textContent = meant;
}

async function tryMicrophone() {
  tell(null);
  go.disabled = byId("try").disabled = true;
  try { await openOrTell(); } catch (error) { say("Not recording."); tell(error); return; }
  finally { go.disabled = byId("try").disabled = false; }
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

// Set by hand.
const ASKS = 6000; // ms without an answer after which the page says that the browser asks for the microphone
const SILENT = 3000; // ms without a piece of sound: the microphone gives nothing, not even silence
const LOOKS = 500; // ms between two looks at that
const ASKS_AGAIN = 250; // ms between two questions how far the hearing has come

// Opens the microphone; while the browser asks whether it may be used, the page says so.
async function openOrTell() {
  say("Opening the microphone. Allow it if the browser asks.");
  const slow = setTimeout(() => tell(new Trouble("the microphone is not open yet",
    "the browser may be asking beside its address: allow it there. If it asks nothing, load this page again")), ASKS);
  try { await open(); } finally { clearTimeout(slow); }
  tell(null);
}

async function begin(key) {
  tell(null);
  go.disabled = true;
  byId("try").disabled = true;
  try {
    if (!sound) await openOrTell();
    early = [];
    say("Getting ready …");
    const form = new URLSearchParams({ rate: String(sound.rate) });
    if (withPartner()) {
      form.set("partner", "1");
      form.set("silence", byId("silence").value);
      if (byId("aloud").checked) form.set("aloud", "1");
    }
    capture = await ask(token, key ? `${box.dataset.home}capture/${key}/go-on` : box.dataset.begin, form);
    if (!sound) {
      if (!key) ask(token, `${box.dataset.home}capture/${capture.key}/drop`).catch(() => {});
      throw new Trouble("the microphone is gone", "plug it in, and begin again");
    }
  } catch (error) {
    early = null;
    closeMicrophone();
    over();
    tell(error instanceof Trouble ? error : new Trouble("offbook does not answer", "start it again in the terminal"));
    return;
  }
  for (const left of document.querySelectorAll("[data-left]")) left.remove();
  ending = false;
  const at = `${box.dataset.home}capture/${capture.key}/${capture.spell}/`;
  sender = new Sender(token, (number, last, unsent) => `${at}${number}?acts=${acts}&unsent=${unsent}${last ? "&last=1" : ""}`, heard, stumbled,
    Number(box.dataset.mostPieces));
  acts = capture.acts;
  partner = withPartner() ? new Partner(tellPartner, byId("partner-says")) : null;
  byId("partner-says").textContent = "";
  byId("line").hidden = !partner;
  go.disabled = false;
  go.textContent = "Stop";
  go.setAttribute("aria-pressed", "true");
  byId("try").hidden = true;
  microphone.disabled = true;
  say("Recording.");
  for (const piece of early) sender.add(piece, false);
  early = null;
  lastPiece = performance.now();
  navigator.wakeLock?.request("screen").catch(() => {});
}

// A microphone that is open and gives nothing at all would otherwise look like a recording.
setInterval(() => {
  if (!sender || ending || performance.now() - lastPiece < SILENT) return;
  unplugged("the microphone gives no sound", "press “Go on from there”, as after the computer has slept; if it happens again, choose another microphone, or unplug this one and plug it in again");
}, LOOKS);

function caught(piece, last) {
  lastPiece = performance.now();
  if (piece.length) measure(piece);
  if (early && piece.length && !last) early.push(piece.buffer.slice(0, piece.byteLength));
  if (!sender) return;
  if (piece.length) sender.add(piece.buffer.slice(0, piece.byteLength), last);
  timer.textContent = clock(capture.seconds + (sender.made * Number(box.dataset.seconds)));
  if (last) finish();
}

// Says once, while it is so, that the hearing is behind the voice, or that no word of the speech was heard yet.
const BEHIND = 3, CAUGHT_UP = 1; // s between the voice and the hearing; set by hand, apart so that the text stays steady
const late = byId("behind");
function tellHearing({ ready, behind, unheard }) {
  let text = late.textContent;
  if (!ready) text = "offbook is still getting ready to follow you. Speak: every word is kept, and heard as soon as it is ready.";
  else if (behind > BEHIND) text = "This computer is busy, so offbook follows you late. Speak on: every word is kept, and heard.";
  else if (unheard) text = "No word of the speech has been heard yet. If you have begun, see that this is the right microphone and that it is not muted.";
  else if (behind < CAUGHT_UP) text = "";
  if (late.textContent !== text) late.textContent = text;
}

let acts = 0; // what the partner asked for so far
function withPartner() { return byId("partner").checked; }

function tellPartner(what, id) {
  const at = capture.seconds + sender.made * Number(box.dataset.seconds);
  const form = new URLSearchParams({ what, id: String(id ?? 0), at: at.toFixed(2) });
  ask(token, `${box.dataset.home}capture/${capture.key}/partner`, form).catch(() => {});
}
byId("line").addEventListener("click", () => tellPartner("ask"));

function heard(told) {
  acts += told.acts.length;
  if (partner && !ending) for (const act of told.acts) partner.act(act);
  capture.safe = told.seconds;
  tellHearing(told);
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
  late.textContent = "";
  partner?.hush();
  go.disabled = true;
  say("Stopped.");
  sound.flush();
}

async function finish() {
  closeMicrophone();
  byId("hearing").hidden = false;
  byId("controls").hidden = true;
  try {
    await sender.flush();
    await follow(await askUntilAnswered(() => ask(token, `${box.dataset.home}capture/${capture.key}/end`), silent));
  } catch (error) {
    over();
    tell(error);
    await offerAgain().catch(() => {});
  }
}

function over() {
  sender = partner = null;
  late.textContent = "";
  byId("line").hidden = true;
  byId("hearing").hidden = true;
  byId("controls").hidden = false;
  go.textContent = "Begin";
  go.removeAttribute("aria-pressed");
  go.disabled = microphone.disabled = byId("try").disabled = byId("try").hidden = false;
  byId("try").textContent = "Try the microphone";
  say("Not recording.");
}

// Says that the server does not answer, while it does not.
function silent(lost) {
  tell(lost ? new Trouble("offbook does not answer; what you said is safe on disk",
    "wait, and it goes on when it answers. If it has stopped, start it again, and it offers to hear it") : null);
}

// Waits until a recording is heard, and goes to its notes.
async function follow(told) {
  byId("stop-hearing").onclick = () => ask(token, `${told.at}/stop`).catch(() => {});
  while (["waiting", "hearing"].includes(told.state)) {
    byId("share").value = told.share;
    await pause(ASKS_AGAIN);
    told = await lookedUp(told.at, silent);
  }
  if (told.notes) {
    sender = null;
    location.assign(told.notes);
    return;
  }
  throw new Trouble(told.what ?? "this was not heard", told.do ?? "try again");
}

async function unplugged(what = "the microphone is gone", then = "plug it in again; then press “Go on from there”") {
  if (!sender || ending) { closeMicrophone(); return; }
  const safe = capture.safe ?? capture.seconds, { key } = capture;
  sender.dead = new Trouble(what, then);
  closeMicrophone();
  over();
  tell(new Trouble(`${what}; everything up to ${clock(safe)} is kept`, then));
  await ask(token, `${box.dataset.home}capture/${key}/leave`).catch(() => {}); // it is closed without a word soon, too
  await offerWhenClosed(key).catch(() => {}); // loaded again, the page offers it
}

go.addEventListener("click", () => { if (sender) stop(); else begin(null); });
document.addEventListener("keydown", (event) => { if (event.key === "Escape" && sender) stop(); });
// A page that is closed says so, so that it offers to go on as soon as it is loaded again.
addEventListener("pagehide", () => {
  if (!sender || ending) return;
  navigator.sendBeacon(`${box.dataset.home}capture/${capture.key}/leave`, new URLSearchParams({ _token: token }));
});
// Back from the notes by the browser's own button: what the browser kept of this page is out of date.
addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
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
