// Says how far something is, and opens the page when it is done. Without it the
// page loads itself again.
const work = document.getElementById("work");
const bar = document.getElementById("far");
const says = document.getElementById("says");
async function ask() {
  try {
    const answer = await fetch(work.dataset.at, { headers: { Accept: "application/json" } });
    if (answer.ok) {
      const far = await answer.json();
      if (far.ended) {
        location.reload();
        return;
      }
      if (far.of > 0) {
        bar.max = far.of;
        bar.value = far.done;
      }
      says.textContent = far.says;
    }
  } catch {
    says.textContent = "The laptop does not answer; asked again.";
  }
  setTimeout(ask, 500);
}
if (work) ask();
