// A recording being heard: how far it has come, and on to its notes.

import { lookedUp, pause } from "./send.js";

const LOOKS = 400; // ms between two questions how far it has come; set by hand
const box = document.getElementById("job");
const words = document.getElementById("job-words");
const silent = (lost) => {
  if (lost) words.textContent = "offbook does not answer. The recording is kept: if offbook has stopped, start it again in the terminal.";
};

async function follow() {
  for (;;) {
    const told = await lookedUp(box.dataset.at, silent);
    document.getElementById("share").value = told.share;
    if (told.notes) { location.replace(told.notes); return; }
    if (["failed", "stopped"].includes(told.state)) { location.reload(); return; }
    if (told.state === "hearing") words.textContent = `${told.doing} …`;
    await pause(LOOKS);
  }
}
if (box) follow().catch(() => location.reload()); // the server no longer knows it: the screen says what to do
