// A show without a plan: the page looks whether its file was mended.

import { about, ask, tell } from "./ask.js";

async function watch() {
  try {
    const told = await ask("/api/state");
    if (told.readable || told.revision !== about.revision) location.reload();
  } catch {
    // it answers again some day
  }
  setTimeout(watch, 1500);
}

document.getElementById("undo")?.addEventListener("click", async () => {
  await tell("/api/undo", { revision: about.revision });
  location.reload();
});
setTimeout(watch, 1500);
