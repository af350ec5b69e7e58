// The frame: one question at a time, the program watched, parts shown anew after a change.

import { about, ask, askPart, onGone, say, showRefusal, tell } from "./ask.js";
import { startJobs } from "./jobs.js";
import { held, startCard } from "./keeping.js";
import { startPatch } from "./patch.js";
import { startTables } from "./tables.js";
import { ink, keepChosen, startWhen } from "./when.js";
import { startWants } from "./wants.js";

const PARTS = ["who", "when", "die", "paper"];
const root = document.documentElement;

function show() {
  const wanted = location.hash.slice(1);
  const own = PARTS.includes(wanted) ? wanted : "who";
  for (const part of PARTS) document.getElementById(part).hidden = part !== own;
  for (const link of document.querySelectorAll(".questions a")) {
    if (link.hash === `#${own}`) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  document.dispatchEvent(new CustomEvent("part", { detail: own }));
}

export async function refresh(parts = PARTS) {
  const told = await Promise.all(parts.map(askPart));
  if (!told.every((part) => part.same)) {
    document.getElementById("elsewhere").hidden = false; // what was changed elsewhere is shown when it is asked for
    return;
  }
  const chosen = parts.includes("when") ? keepChosen() : () => {};
  const places = parts.map((part) => document.getElementById(part));
  const again = places.map(held);
  places.forEach((place, number) => (place.innerHTML = told[number].text));
  chosen();
  document.dispatchEvent(new CustomEvent("renewed", { detail: parts }));
  show();
  for (const back of again) back();
}

let changing = 0;
let differed = false;

export async function change(path, what, then = () => {}) {
  changing += 1;
  try {
    const told = await tell(path, { ...what, revision: about.revision });
    about.revision = told.revision;
    document.getElementById("refused").hidden = true;
    setUndo(told.undo);
    await refresh();
    then();
    say(told.says);
    return true;
  } catch (error) {
    showRefusal(error);
    return false;
  } finally {
    changing -= 1;
  }
}

function setUndo(what) {
  const button = document.getElementById("undo");
  if (!button) return;
  button.hidden = !what;
  document.getElementById("undo-what").textContent = what || "";
}

async function watch() {
  try {
    const told = await ask("/api/state");
    about.token = told.token;
    const differs = !changing && told.revision !== about.revision;
    const elsewhere = differs && differed; // an answer may have crossed a change of our own
    differed = differs;
    document.getElementById("elsewhere").hidden = !elsewhere;
    if (!told.readable && elsewhere) document.getElementById("again").textContent = "Show what is wrong with it";
  } catch {
    // gone: said by the bar
  }
  setTimeout(watch, 2000);
}

function startFrame() {
  root.classList.add("scripted");
  addEventListener("hashchange", () => {
    say("");
    show();
    document.getElementById("main").focus({ preventScroll: true });
    scrollTo(0, 0);
  });
  onGone((gone) => (document.getElementById("gone").hidden = !gone));
  document.getElementById("again").addEventListener("click", () => location.reload());
  document.getElementById("undo")?.addEventListener("click", () => change("/api/undo", {}));
  const dim = document.getElementById("dim");
  const paint = () => {
    root.dataset.ink = ink();
    dim.setAttribute("aria-pressed", String(ink() === "dim"));
    dim.textContent = ink() === "dim" ? "Brighter" : "Dim";
  };
  dim.addEventListener("click", () => {
    localStorage.setItem("ink", ink() === "dim" ? "page" : "dim");
    paint();
    document.dispatchEvent(new CustomEvent("ink"));
  });
  paint();
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) print();
    const preview = event.target.closest("[data-preview]");
    if (preview) pages(preview.dataset.preview, preview.parentElement);
  });
  show();
  setTimeout(watch, 2000);
}

async function pages(sheet, place) {
  const title = place.closest(".paper").querySelector("h3").textContent;
  place.replaceChildren("Setting it …");
  const shown = [];
  for (let page = 1, of = 1; page <= of; page += 1) {
    const answer = await fetch(`/paper/${sheet}/${page}.png`);
    if (!answer.ok) break;
    of = Number(answer.headers.get("x-pages"));
    const image = document.createElement("img");
    image.src = `/paper/${sheet}/${page}.png`;
    image.alt = `${title}, page ${page} of ${of}; the PDF holds the same as text`;
    shown.push(image);
  }
  if (shown.length) place.replaceChildren(...shown);
  else place.replaceChildren("The sheet could not be set. Ask for its PDF.");
}

startFrame();
startWhen();
startWants();
startPatch();
startJobs();
startCard();
startTables();
