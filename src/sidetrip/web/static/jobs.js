// Long work: started here, carried on by the program, found again after a reload, stopped when asked.

import { about, ask, element, Refused, showRefusal, tell } from "./ask.js";
import { atRest } from "./keeping.js";
import { refresh } from "./page.js";

const watched = new Map();

function bar(job) {
  const words = element("p", { textContent: job.words, className: "quiet" });
  const progress = element("progress", { "aria-label": job.words });
  if (job.of) {
    progress.max = job.of;
    progress.value = job.done;
  }
  const inside = [words, progress];
  if (about.owner) {
    inside.push(" ", element("button", { type: "button", className: "plain", textContent: "Stop", onclick: () => tell(`/api/jobs/${job.number}/stop`).catch(showRefusal) }));
  }
  return inside;
}

function follow(job, place, done) {
  if (watched.get(place) === job.number && job.state === "running" && place.dataset.bound === String(job.number)) return;
  watched.set(place, job.number);
  place.dataset.bound = String(job.number);
  const step = (told) => {
    if (!place.isConnected || watched.get(place) !== told.number) return;
    if (told.state === "running") {
      place.replaceChildren(...bar(told));
      setTimeout(async () => {
        try {
          const now = await ask(`/api/jobs/${told.number}`);
          if (now.kind === job.kind && now.about === job.about) step(now);
          else lost(place); // the program was started anew, and counts anew
        } catch (error) {
          if (error instanceof Refused) lost(place);
          else step(told); // gone: said by the bar
        }
      }, 300);
    } else if (told.state === "done") done(told, place);
    else {
      place.replaceChildren(element("p", { textContent: `${told.what}.` }));
      if (about.owner && told.state !== "running") place.append(again(told, place));
    }
  };
  step(job);
}

function lost(place) {
  watched.delete(place);
  find();
}

function again(job, place) {
  return element("button", { type: "button", textContent: "Try again", onclick: () => start({ kind: job.kind }, place) });
}

async function start(what, place) {
  try {
    follow(await tell("/api/jobs", what), place, DONE[what.kind]);
  } catch (error) {
    showRefusal(error);
  }
}

const DONE = {
  else: (job, place) => {
    place.replaceChildren();
    for (const own of job.result) {
      const list = element("dl", {});
      for (const [word, ...cells] of own.rows) list.append(element("dt", { textContent: word, className: "quiet" }), element("dd", { textContent: cells.join(" ") }));
      place.append(element("p", { textContent: own.answer }), list);
    }
    if (!job.result.length) place.append(element("p", { textContent: "Nobody who asked stays in: there is nothing to weigh." }));
  },
  questions: (job, place) => {
    place.replaceChildren();
    if (!job.result.length) place.append(element("p", { textContent: "None: nothing that is unknown or assumed would change the plan." }));
    for (const own of job.result) place.append(question(own));
  },
  dial: async () => {
    const typed = atRest(document.getElementById("who"));
    try {
      await refresh(["when", "paper"]);
      await typed;
      await refresh(["who"]);
    } catch {
      // gone: said by the bar
    }
  },
  hear: (job, place) => {
    const words = { planned: "as planned, all loops IN", out: "all loops OUT", dialled: "with what there is to dial" };
    const list = element("div", { className: "sounds" });
    for (const own of job.result.files) {
      // file names hold letters, figures and dashes only: a slash in a name is one dash among others
      const [source, where] = [job.result.source, job.result.place].map((name) => encodeURIComponent(name.replaceAll("/", " ")));
      const path = `/api/jobs/hear/${source}/${where}/${own.name}.wav`;
      list.append(element("span", { textContent: words[own.name] }), element("audio", { controls: true, src: path, preload: "none", "aria-label": words[own.name] }));
    }
    place.replaceChildren(element("p", { className: "quiet", textContent: `Equally loud, ${job.result.of}. Start quietly.` }), list);
  },
};

function question(own) {
  const form = element("form", { className: "question" });
  const answer = element("input", { name: "answer", required: true, maxLength: 100, value: sessionStorage.getItem(`answer ${own.id}`) || "" });
  const by = element("input", { name: "by", required: true, maxLength: 60, value: localStorage.getItem("by") || "" });
  by.addEventListener("input", () => localStorage.setItem("by", by.value));
  answer.addEventListener("input", () => sessionStorage.setItem(`answer ${own.id}`, answer.value));
  form.append(element("p", {}, element("strong", { textContent: own.question })), element("p", { className: "quiet", textContent: `${own.why}. Answer ${own.answers}.` }));
  if (about.owner) {
    form.append(element("p", { className: "controls" }, element("label", {}, "Answer ", answer), element("label", {}, "said by, as a role ", by), element("button", { textContent: "Note it" })));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const { change } = await import("./page.js");
      if (await change("/api/answer", { id: own.id, answer: answer.value, by: by.value })) sessionStorage.removeItem(`answer ${own.id}`);
    });
  }
  return form;
}

async function find() {
  const places = document.querySelectorAll(".job[data-job]");
  if (!places.length) return;
  let jobs = [];
  try {
    jobs = await ask("/api/jobs");
  } catch {
    return;
  }
  for (const place of places) {
    const kind = place.dataset.job;
    const own = jobs.find((job) => job.kind === kind && job.about === about.revision);
    if (own && (own.state !== "done" || kind !== "dial")) follow(own, place, DONE[kind]);
    else if (kind === "dial" && own?.state === "done") DONE.dial();
    else if (kind === "dial" && about.owner) start({ kind }, place);
    else if (place.dataset.bound) {
      delete place.dataset.bound;
      place.replaceChildren(element("p", { textContent: "It went no further when the program stopped." }), ...(about.owner ? [again({ kind }, place)] : []));
    }
  }
}

export function startJobs() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.start) start({ kind: button.dataset.start }, button.parentElement);
    if ("hear" in button.dataset) {
      const { source, place } = button.dataset;
      start({ kind: "hear", source, place }, button.closest("li").querySelector(".shown"));
    }
  });
  const alone = (event) => {
    for (const other of document.querySelectorAll("audio")) if (other !== event.target) other.pause();
  };
  document.addEventListener("play", alone, true);
  document.addEventListener("renewed", find);
  find();
}
