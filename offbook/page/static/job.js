// A recording being heard: how far it has come, and on to its notes.

const box = document.getElementById("job");
if (box) {
  const share = document.getElementById("share");
  const timer = setInterval(async () => {
    try {
      const answer = await fetch(box.dataset.at, { headers: { Accept: "application/json" } });
      const told = await answer.json();
      share.value = told.share;
      if (told.notes) location.replace(told.notes);
      else if (["failed", "stopped"].includes(told.state)) location.reload();
      else if (told.state === "hearing") document.getElementById("job-words").textContent = `${told.doing} …`;
    } catch { clearInterval(timer); document.getElementById("job-words").textContent = "offbook has stopped. Start it again: the recording is kept."; }
  }, 400);
}
