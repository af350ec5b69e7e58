// When it arrives: place, buffer and rate move the map at once; lists follow when the hand rests.

import { about, ask, element, showRefusal } from "./ask.js";
import { change } from "./page.js";

export function ink() {
  return localStorage.getItem("ink") === "dim" ? "dim" : "page";
}

let asked = null;
let lists = null;
let due = false; // whether the lists say something else than the map
let number = 0;

function stop(slider) {
  return slider ? Number(slider.dataset.stops.split(" ")[Number(slider.value)]) : null;
}

function chosen() {
  return {
    place: document.getElementById("place").value,
    buffer: stop(document.getElementById("buffer")),
    rate: stop(document.getElementById("rate")),
  };
}

function planned() {
  const form = document.getElementById("when-form");
  return { buffer: Number(form.dataset.plannedBuffer) || null, rate: Number(form.dataset.plannedRate) };
}

function query(now, more) {
  const stands = planned();
  const words = new URLSearchParams({ place: now.place, ink: ink(), ...more });
  if (now.buffer && now.buffer !== stands.buffer) words.set("buffer", now.buffer);
  if (now.rate && now.rate !== stands.rate) words.set("rate", now.rate);
  return words;
}

function label(now) {
  for (const [id, value, unit] of [["buffer", now.buffer, "frames"], ["rate", now.rate, "Hz"]]) {
    const slider = document.getElementById(id);
    if (!slider) continue;
    document.getElementById(`${id}-says`).textContent = `${value} ${unit}`;
    slider.setAttribute("aria-valuetext", `${value} ${unit}`);
  }
  const stands = planned();
  const same = (!now.buffer || now.buffer === stands.buffer) && (!now.rate || now.rate === stands.rate);
  document.getElementById("otherwise").hidden = same;
}

// Returns what puts place and sliders back where the hand left them, once the part is shown anew.
export function keepChosen() {
  const was = chosen();
  const stood = planned();
  return () => {
    const place = document.getElementById("place");
    if ([...place.options].some((own) => own.value === was.place)) place.value = was.place;
    for (const id of ["buffer", "rate"]) {
      const slider = document.getElementById(id);
      const at = slider && was[id] !== stood[id] ? slider.dataset.stops.split(" ").indexOf(String(was[id])) : -1;
      if (at >= 0) slider.value = at;
    }
    label(chosen());
    const now = chosen();
    const stands = planned();
    if (place.value !== place.querySelector("[selected]")?.value || now.buffer !== (slid("buffer") ? stands.buffer : null) || now.rate !== (slid("rate") ? stands.rate : null)) move();
  };
}

function slid(id) {
  return document.getElementById(id) !== null;
}

function move() {
  due = true;
  return draw();
}

// The lists do not depend on width and ink: what was opened in them stays open.
async function draw() {
  const now = chosen();
  label(now);
  asked?.abort();
  asked = new AbortController();
  const own = ++number;
  const map = document.getElementById("map");
  const width = Math.max(340, Math.min(1400, Math.floor(map.clientWidth) || 1100));
  try {
    const told = await ask(`/api/when?${query(now, { width, lists: "false" })}`, { signal: asked.signal });
    if (own !== number) return;
    map.innerHTML = told.svg;
    document.getElementById("when-lead").textContent = told.lead;
    map.dataset.moved = String(own);
    clearTimeout(lists);
    lists = setTimeout(() => {
      onPaper(now, own);
      if (due) settle(now, own, width);
    }, 250);
  } catch (error) {
    showRefusal(error);
  }
}

const PAPER = 900;

// The same map in the colours of paper lies ready beside the one on the screen: a browser that prints waits for nobody.
async function onPaper(now, own) {
  try {
    const told = await ask(`/api/when?${query(now, { width: PAPER, lists: "false", ink: "print" })}`);
    if (own !== number) return;
    const place = document.getElementById("map-on-paper");
    place.innerHTML = told.svg.replaceAll(/\b(id="|url\(#|href="#|labelledby=")/g, "$1paper-");
    const { width, height } = place.querySelector("svg").viewBox.baseVal;
    place.classList.toggle("long", height > width * 1.5);
  } catch {
    // it is drawn again with the next move
  }
}

async function settle(now, own, width) {
  try {
    const told = await ask(`/api/when?${query(now, { width })}`);
    if (own !== number) return;
    due = false;
    document.getElementById("when-lists").innerHTML = told.lists;
    document.dispatchEvent(new CustomEvent("renewed", { detail: ["when"] }));
  } catch (error) {
    showRefusal(error);
  }
}

function comb(button) {
  const place = button.closest("li").querySelector(".shown");
  const { source, place: where } = button.dataset;
  const words = query(chosen(), { source });
  words.set("place", where);
  place.replaceChildren(element("img", { src: `/api/comb?${words}`, alt: `Level by frequency of ${source} at ${where}, as planned and dialled` }));
}

export function startWhen() {
  const part = document.getElementById("when");
  part.addEventListener("input", (event) => {
    if (["buffer", "rate", "place"].includes(event.target.id)) move();
  });
  part.addEventListener("submit", (event) => event.preventDefault());
  part.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if ("comb" in button.dataset) comb(button);
    if (button.id === "as-planned") {
      for (const [id, value] of Object.entries(planned())) {
        const slider = document.getElementById(id);
        if (slider) slider.value = slider.dataset.stops.split(" ").indexOf(String(value));
      }
      move();
    }
    if (button.id === "set-buffer" && about.owner) {
      const now = chosen();
      change("/api/buffer", { buffer: now.buffer, rate: now.rate });
    }
  });
  const fit = () => {
    if (!part.hidden && document.getElementById("place")) draw();
  };
  document.addEventListener("part", (event) => event.detail === "when" && fit());
  document.addEventListener("ink", fit);
  let resized = null;
  addEventListener("resize", () => {
    clearTimeout(resized);
    resized = setTimeout(fit, 200);
  });
  fit(); // this part may be the one that was opened
}
