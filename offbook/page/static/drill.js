// Drills: Enter gives the answer, and the time until the first key is measured; or the answer is said aloud.

import { openMicrophone } from "./microphone.js";
import { Trouble } from "./send.js";

const SECOND = 1000; // ms
const PIECE = 0.25; // s of sound that the microphone gives at a time; set by hand
const field = document.getElementById("answer");
const began = performance.now();
if (field) {
  field.addEventListener("input", () => {
    const pickUp = document.getElementById("pick_up");
    if (!pickUp.value) pickUp.value = ((performance.now() - began) / SECOND).toFixed(2);
  });
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.shiftKey) return;
    event.preventDefault();
    field.form.requestSubmit(field.form.querySelector("[value=answer]"));
  });
}

const say = document.getElementById("say");
if (say) {
  const { token, catch: module, spoken } = say.dataset;
  const trouble = document.getElementById("trouble");
  const pieces = [];
  let microphone = null;
  say.hidden = false;

  const stumbled = (error) => {
    trouble.hidden = false;
    trouble.textContent = `${error.what ?? "The answer did not arrive"}. ${error.then_ ?? "Try again"}.`;
    say.disabled = false;
    say.textContent = "Say it";
  };
  const take = async (piece, last) => {
    pieces.push(piece.slice());
    if (!last) return;
    const { rate } = microphone;
    microphone.close();
    microphone = null;
    try {
      const answer = await fetch(spoken, {
        method: "POST", body: new Blob(pieces), headers: { "X-Offbook-Token": token, "X-Rate": String(rate), Accept: "application/json" },
      });
      const told = await answer.json();
      if (!answer.ok) throw new Trouble(told.what, told.do);
      location.reload();
    } catch (error) { stumbled(error); }
  };
  say.addEventListener("click", async () => {
    trouble.hidden = true;
    if (microphone) {
      say.disabled = true;
      say.textContent = "Hearing it …";
      microphone.flush();
      return;
    }
    try {
      pieces.length = 0;
      microphone = await openMicrophone({ module, seconds: PIECE, piece: take, partner: false, gone: () => stumbled(new Trouble("The microphone is gone", "Plug it in")) });
      say.textContent = "I have said it";
    } catch (error) { stumbled(error); }
  });
}
