// The marked script: layers without a reload, words reached by pointer and by arrow keys, printing.
// Everything here also works without it, by forms and links.

const speech = document.getElementById("speech");
const layers = document.getElementById("layers");
const remembered = "offbook layers shown";

for (const plain of document.querySelectorAll("[data-plain]")) plain.hidden = true;
for (const hint of document.querySelectorAll("[data-with-script]")) hint.hidden = false;
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

function showLayers() {
  const shown = {};
  for (const box of layers.querySelectorAll("input[type=checkbox]")) {
    document.body.classList.toggle(`no-${box.value}`, !box.checked);
    shown[box.value] = box.checked;
  }
  localStorage.setItem(remembered, JSON.stringify(shown));
}

if (layers) {
  try {
    const shown = JSON.parse(localStorage.getItem(remembered) ?? "{}");
    for (const box of layers.querySelectorAll("input[type=checkbox]")) {
      if (typeof shown[box.value] === "boolean") box.checked = shown[box.value];
    }
    showLayers();
  } catch { /* nothing remembered that can be read */ }
  layers.addEventListener("change", showLayers);
}

// One word at a time is in the tab order; the arrow keys move from word to word and from line to line.
if (speech && speech.dataset.pencil) {
  const words = [...speech.querySelectorAll(".word")];
  const correct = (word) => { location.href = `${speech.dataset.pencil}?word=${word.id.slice(1)}#pencil`; };
  // Only the word that is reached is a button: a reader hears the speech, not two hundred buttons.
  const own = (word) => {
    word.tabIndex = 0;
    if (word.tagName === "A") return;
    word.setAttribute("role", "button");
    word.setAttribute("aria-describedby", "pencil-hint");
  };
  const reach = (word) => {
    for (const other of words) { other.tabIndex = -1; other.removeAttribute("role"); }
    own(word);
    word.focus();
  };
  if (!("penciled" in speech.dataset)) {
    for (const word of words) word.tabIndex = -1;
    const wanted = words.find((w) => `#${w.id}` === location.hash) ?? words[0];
    if (wanted) own(wanted);
    speech.addEventListener("click", (event) => {
      const word = event.target.closest(".word");
      if (word && !String(getSelection())) correct(word);
    });
  }
  speech.addEventListener("keydown", (event) => {
    const at = words.indexOf(event.target.closest(".word"));
    if (at < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    const line = words[at].closest("li");
    const lines = [...speech.querySelectorAll("li")].filter((li) => li.querySelector(".word"));
    const step = { ArrowRight: words[at + 1], ArrowLeft: words[at - 1],
      ArrowDown: lines[lines.indexOf(line) + 1]?.querySelector(".word"),
      ArrowUp: lines[lines.indexOf(line) - 1]?.querySelector(".word"),
      Home: line.querySelector(".word"), End: [...line.querySelectorAll(".word")].at(-1) };
    if (event.key in step) {
      event.preventDefault();
      if (step[event.key]) reach(step[event.key]);
    } else if ((event.key === "Enter" || event.key === " ") && words[at].tagName !== "A") {
      event.preventDefault();
      correct(words[at]);
    }
  });
}
