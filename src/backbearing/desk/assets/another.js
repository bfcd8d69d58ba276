// The draft is kept beside the outing as it is turned, and another outing can be laid on the desk.
import { tell } from "/script/ask.js";

let sent = "{}";
document.addEventListener("desk-night", ({ detail }) => {
  const said = JSON.stringify(detail.changes);
  if (said === sent) return;
  sent = said;
  tell("/api/draft", { changes: detail.changes, revision: detail.night.revision }).catch(() => { sent = ""; });
});

document.getElementById("another").addEventListener("click", async () => {
  try {
    await tell("/api/leave", {});
    location.assign("/");
  } catch (problem) {
    document.getElementById("trouble").textContent = problem.message;
    document.getElementById("trouble").hidden = false;
  }
});
