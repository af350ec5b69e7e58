// Patch steps are ticked one by one; ticks are kept beside the show, so that any browser goes on where one stopped.

import { about, onGone, Refused, say, showRefusal, tell } from "./ask.js";
import { refresh } from "./page.js";

const UNTOLD = "untold ticks";

function untold() {
  return JSON.parse(sessionStorage.getItem(UNTOLD) || "[]");
}

// What was ticked while the program was gone is told in its order when it answers.
async function tellAgain() {
  const waiting = untold();
  if (!waiting.length) return;
  let refused = null;
  while (waiting.length) {
    try {
      await tell("/api/tick", waiting[0]);
    } catch (error) {
      if (!(error instanceof Refused)) return;
      refused = error;
    }
    waiting.shift();
    sessionStorage.setItem(UNTOLD, JSON.stringify(waiting));
  }
  await refresh(["who"]);
  if (refused) showRefusal(refused);
  else say("What you ticked meanwhile is kept now.");
}

async function tick(step, done, focus) {
  try {
    const told = await tell("/api/tick", { step, done });
    document.getElementById("refused").hidden = true;
    await refresh(["who"]);
    document.querySelector(focus(step))?.focus();
    say(told.says);
  } catch (error) {
    if (!(error instanceof Refused)) {
      sessionStorage.setItem(UNTOLD, JSON.stringify([...untold(), { step, done }]));
      return;
    }
    await refresh(["who"]).catch(() => {});
    showRefusal(error);
  }
}

export function startPatch() {
  const part = document.getElementById("who");
  if (!about.owner) return;
  onGone((gone) => gone || tellAgain().catch(() => {}));
  tellAgain().catch(() => {});
  part.addEventListener("change", (event) => {
    const box = event.target.closest("input[data-tick]");
    if (box) tick(box.dataset.tick, box.checked, (step) => `input[data-tick="${step}"]`);
  });
  part.addEventListener("click", async (event) => {
    const button = event.target.closest("button[data-tick]");
    if (button) tick(button.dataset.tick, true, () => "#next-step button");
    const begin = event.target.closest("#untick");
    if (begin && !begin.dataset.sure) {
      begin.dataset.sure = "yes";
      begin.textContent = "Press again: all ticks go";
      setTimeout(() => {
        delete begin.dataset.sure;
        begin.textContent = "Begin again";
      }, 5000);
    } else if (begin) {
      try {
        const told = await tell("/api/untick");
        await refresh(["who"]);
        say(told.says);
      } catch (error) {
        showRefusal(error);
      }
    }
  });
}
