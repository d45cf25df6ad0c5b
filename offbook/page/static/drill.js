// Drills: Enter gives the answer, and how soon the first key came is measured.

const field = document.getElementById("answer");
if (field) {
  const began = performance.now();
  field.addEventListener("input", () => {
    const pickUp = document.getElementById("pick_up");
    if (!pickUp.value) pickUp.value = ((performance.now() - began) / 1000).toFixed(2);
  });
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.shiftKey) return;
    event.preventDefault();
    field.form.requestSubmit(field.form.querySelector("[value=answer]"));
  });
}
