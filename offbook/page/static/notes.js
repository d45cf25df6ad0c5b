// The sound behind the notes: a word, a line or a note is heard when it is pressed.

const sound = document.getElementById("sound");
const speech = document.getElementById("speech");

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
const GAP = 8; // px between a note and its word, and the edge of the window; set by hand
// A marked word opens its note beside it; without scripts it leads to the list of notes.
document.addEventListener("click", (event) => {
  const mark = event.target.closest("a.mark");
  const note = mark && document.getElementById(`pop-${mark.hash.slice("#note-".length)}`);
  if (!note?.showPopover) return;
  event.preventDefault();
  note.showPopover();
  const at = mark.getBoundingClientRect(), size = note.getBoundingClientRect();
  const below = at.bottom + GAP, above = Math.max(GAP, at.top - size.height - GAP);
  note.style.margin = "0";
  note.style.left = `${Math.max(GAP, Math.min(at.left, innerWidth - size.width - GAP))}px`;
  note.style.top = `${below + size.height < innerHeight ? below : above}px`;
  note.querySelector("button:not([hidden])")?.focus();
  note.addEventListener("toggle", (e) => { if (e.newState === "closed") mark.focus(); }, { once: true });
});

for (const hint of document.querySelectorAll("[data-with-script]")) hint.hidden = false;

// Seconds into the recording of what was pressed: a word, a button, or anywhere in the picture.
function placeOf(event) {
  const pressed = event.target.closest("[data-at]");
  if (pressed) return Number(pressed.dataset.at);
  const picture = event.target.closest("svg[data-a-second]");
  if (!picture) return null;
  const box = picture.getBoundingClientRect();
  const drawn = ((event.clientX - box.left) / box.width) * picture.viewBox.baseVal.width;
  return Math.max(0, (drawn - Number(picture.dataset.left)) / Number(picture.dataset.aSecond));
}

if (sound) {
  const before = 0.35; // s played before a word; set by hand, as in run_notes.py
  const words = [...speech.querySelectorAll(".w[data-at]")];
  for (const button of document.querySelectorAll("button[data-at]")) button.hidden = false;
  document.addEventListener("click", (event) => {
    const at = placeOf(event);
    if (at === null) return;
    sound.currentTime = Math.max(0, at - before);
    sound.play().catch(() => {});
  });
  sound.addEventListener("timeupdate", () => {
    if (sound.paused) return;
    const now = words.findLast((w) => Number(w.dataset.at) <= sound.currentTime);
    for (const word of words) word.classList.toggle("now", word === now);
  });
  sound.addEventListener("pause", () => { for (const word of words) word.classList.remove("now"); });
}
