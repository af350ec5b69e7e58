// The ladder of wants: a strip is dragged to another want, or its handle is moved with the up and down keys.

import { about } from "./ask.js";
import { change } from "./page.js";

const LADDER = ["must", "9", "8", "7", "6", "5", "4", "3", "2", "1"];
let lifted = null;
let moving = null; // what is being told, and where the keys have moved it meanwhile

async function take(strip, way, want) {
  if (moving) {
    if (moving.strip === strip && moving.way === way) moving.want = want;
    return;
  }
  moving = { strip, way, want };
  for (let told = null; told !== moving.want; ) {
    told = moving.want;
    const done = await change("/api/want", { strip, way, want: told }, () => {
      const own = [...document.querySelectorAll(".wanting")].find((one) => one.dataset.strip === strip && one.dataset.way === way);
      own?.querySelector(".handle")?.focus();
    });
    if (!done) break;
  }
  moving = null;
}

export function startWants() {
  const part = document.getElementById("who");
  if (!about.owner) return;
  part.addEventListener("keydown", (event) => {
    const handle = event.target.closest?.(".handle");
    if (!handle || !["ArrowUp", "ArrowDown"].includes(event.key)) return;
    event.preventDefault();
    const own = handle.closest(".wanting");
    const same = moving && moving.strip === own.dataset.strip && moving.way === own.dataset.way;
    const at = LADDER.indexOf(same ? moving.want : own.dataset.want) + (event.key === "ArrowUp" ? -1 : 1);
    if (at >= 0 && at < LADDER.length) take(own.dataset.strip, own.dataset.way, LADDER[at]);
  });
  part.addEventListener("dragstart", (event) => {
    lifted = event.target.closest(".wanting");
    if (!lifted) return;
    lifted.classList.add("lifted");
    part.classList.add("dragging");
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", lifted.dataset.strip);
  });
  part.addEventListener("dragend", () => {
    lifted?.classList.remove("lifted");
    part.classList.remove("dragging");
    for (const rung of part.querySelectorAll(".rung.over")) rung.classList.remove("over");
    lifted = null;
  });
  part.addEventListener("dragover", (event) => {
    const rung = event.target.closest(".rung");
    if (!rung || !lifted) return;
    event.preventDefault();
    for (const other of part.querySelectorAll(".rung.over")) if (other !== rung) other.classList.remove("over");
    rung.classList.add("over");
  });
  part.addEventListener("drop", (event) => {
    const rung = event.target.closest(".rung");
    if (!rung || !lifted) return;
    event.preventDefault();
    if (rung.dataset.want !== lifted.dataset.want) take(lifted.dataset.strip, lifted.dataset.way, rung.dataset.want);
  });
  part.addEventListener("click", (event) => {
    const button = event.target.closest("[data-mend]");
    if (!button) return;
    const own = button.closest(".wanting");
    button.disabled = true;
    change("/api/mend", { strip: own.dataset.strip, way: own.dataset.way, words: button.dataset.mend }).then((done) => {
      if (!done) button.disabled = false;
    });
  });
}
