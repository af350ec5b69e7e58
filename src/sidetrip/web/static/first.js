// A first show in four steps. What is typed is kept by the program at every pause, and here while it is gone.

import { ask, element, onGone, Refused, say, showRefusal, tell } from "./ask.js";

const form = document.getElementById("start");
const draft = JSON.parse(document.getElementById("draft").dataset.draft);
let rows = [];
let waiting = null;
let unkept = false;

function read() {
  draft.show = document.getElementById("title").value;
  draft.desk = form.querySelector("[name=desk]:checked")?.value || "";
  draft.inputs = document.getElementById("inputs").value;
  draft.mixes = [...document.querySelectorAll("#mixes .mix")].map((own) => ({
    name: own.querySelector(".mix-name").value,
    kind: own.querySelector(".mix-kind").value,
    width: own.querySelector(".mix-width").value,
    who: own.querySelector(".mix-who").value,
    listens: own.querySelector(".mix-listens").value,
    takes: own.querySelector(".mix-takes").value,
  }));
  const wants = [...document.querySelectorAll("#wants tbody tr")];
  if (wants.length) {
    draft.requests = wants
      .map((own) => ({ strip: own.dataset.strip, want: own.querySelector("select").value, chain: own.querySelector("input").value }))
      .filter((own) => own.want || own.chain);
  }
}

let keeping = Promise.resolve();

// One after another: the later text must not be overtaken by the earlier.
function keep() {
  clearTimeout(waiting);
  waiting = null;
  keeping = keeping.then(keepNow);
  return keeping;
}

async function keepNow() {
  read();
  try {
    await tell("/api/start/draft", draft);
    unkept = false;
    localStorage.removeItem("draft");
  } catch (error) {
    localStorage.setItem("draft", JSON.stringify(draft));
    if (error instanceof Refused) showRefusal(error);
    else if (!unkept) setTimeout(retry, 1500);
    unkept = true;
  }
}

async function retry() {
  if (!unkept) return;
  unkept = false;
  await keep();
}

function later() {
  clearTimeout(waiting);
  waiting = setTimeout(keep, 400);
}

async function understand() {
  const place = document.getElementById("understood");
  const says = document.getElementById("understood-says");
  if (!draft.inputs.trim()) {
    rows = [];
    says.textContent = "No inputs yet. A show can start without them.";
    place.replaceChildren();
    return true;
  }
  try {
    const found = await tell("/api/start/inputs", { desk: draft.desk, text: draft.inputs });
    rows = found.rows;
    const body = element("tbody");
    for (const own of rows) body.append(element("tr", {}, ...[own.ch, own.name, own.port, own.group].map((text) => element("td", { textContent: text }))));
    const head = element("thead", {}, element("tr", {}, ...["ch", "name", "port", "group"].map((text) => element("th", { textContent: text, scope: "col" }))));
    const notes = element("ul", { className: "quiet" }, ...found.notes.map((note) => element("li", { textContent: note })));
    says.textContent = `${rows.length} ${rows.length === 1 ? "input" : "inputs"} understood.`;
    place.replaceChildren(notes, element("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": "Inputs as understood" }, element("table", { className: "sheet" }, head, body)));
    document.getElementById("refused").hidden = true;
    return true;
  } catch (error) {
    if (!(error instanceof Refused)) return false;
    const list = element("ul", { className: "findings" }, ...error.findings.map((own) => element("li", { className: "error", textContent: `${own.where}: ${own.what}${own.values ? `: ${own.values}` : ""}. ${own.remedy}.` })));
    says.textContent = "The list is not understood yet.";
    place.replaceChildren(error.findings.length ? list : element("p", { textContent: `${error.message}.` }));
    return false;
  }
}

function choice(className, words, value, label) {
  const made = element("select", { className, "aria-label": label });
  for (const word of words) made.append(element("option", { value: word, textContent: word || "–" }));
  made.value = value;
  return made;
}

function addMix(own) {
  const text = (className, value, label) => element("input", { className, value, maxLength: className === "mix-takes" ? 4000 : 120, "aria-label": label, placeholder: label });
  const row = element(
    "div",
    { className: "mix controls" },
    text("mix-name", own.name, "mix"),
    choice("mix-kind", ["aux", "matrix", "group", "main"], own.kind, "kind"),
    choice("mix-width", ["stereo", "mono"], own.width, "width"),
    text("mix-who", own.who, "for whose ears"),
    choice("mix-listens", ["", "in-ear", "wedge"], own.listens, "listens with"),
    text("mix-takes", own.takes, "takes, with commas between"),
  );
  const away = element("button", { type: "button", className: "plain", textContent: "Take away", onclick: () => (row.remove(), later()) });
  row.append(away);
  document.getElementById("mixes").append(row);
}

function wants() {
  const groups = [...new Set(rows.map((own) => own.group).filter(Boolean))];
  const mixes = draft.mixes.map((own) => own.name.trim()).filter(Boolean);
  const strips = [...new Set(["Main", ...groups, ...mixes, ...rows.map((own) => own.name)])];
  const asked = new Map(draft.requests.map((own) => [own.strip, own]));
  const body = element("tbody");
  for (const strip of strips) {
    const own = asked.get(strip) || { want: "", chain: "" };
    const row = element("tr", {}, element("td", { textContent: strip }), element("td", {}, choice("", ["", "must", "9", "8", "7", "6", "5", "4", "3", "2", "1"], own.want, `want of ${strip}`)), element("td", {}, element("input", { value: own.chain, maxLength: 120, size: 15, "aria-label": `chain for ${strip}`, placeholder: "what is done to it there" })));
    row.dataset.strip = strip;
    body.append(row);
  }
  const head = element("thead", {}, element("tr", {}, ...["strip", "want", "chain"].map((text) => element("th", { textContent: text, scope: "col" }))));
  document.getElementById("wants").replaceChildren(element("div", { className: "scroll", tabIndex: 0, role: "region", "aria-label": "Who wants out" }, element("table", { className: "sheet" }, head, body)));
}

function show() {
  for (const field of form.querySelectorAll("fieldset")) field.hidden = Number(field.dataset.step) !== draft.step;
  [...document.getElementById("start-steps").children].forEach((own, index) => {
    if (index + 1 === draft.step) own.setAttribute("aria-current", "step");
    else own.removeAttribute("aria-current");
  });
  document.getElementById("back").hidden = draft.step === 1;
  document.getElementById("next").textContent = draft.step === 4 ? "Make the plan" : "Next";
  if (draft.step === 4) wants();
}

async function forward() {
  clearTimeout(waiting);
  waiting = null;
  read();
  document.getElementById("refused").hidden = true;
  if (draft.step === 1 && !draft.desk) return say("Choose a desk first.");
  if (draft.step === 1 && !draft.show.trim()) {
    document.getElementById("title").focus();
    return say("Give the show a name first.");
  }
  if (draft.step === 2 && !(await understand())) return say("Mend the list first: it says which rows.");
  if (draft.step < 4) {
    draft.step += 1;
    show();
    form.querySelector(`[data-step="${draft.step}"] :is(input, select, textarea, button)`)?.focus();
    return keep();
  }
  const bare = draft.requests.find((own) => own.want && !own.chain.trim());
  if (bare) {
    [...document.querySelectorAll("#wants tbody tr")].find((own) => own.dataset.strip === bare.strip)?.querySelector("input").focus();
    return say(`Say in a word what is done to ${bare.strip} out there.`);
  }
  await keeping;
  try {
    await tell("/api/start/make", draft);
    location.assign("/");
  } catch (error) {
    showRefusal(error);
  }
}

async function go(path, what) {
  try {
    await tell(path, what);
    location.assign("/");
  } catch (error) {
    showRefusal(error);
  }
}

onGone((gone) => {
  document.getElementById("gone").hidden = !gone;
});
document.getElementById("demo")?.addEventListener("click", () => go("/api/start/demo", {}));
for (const button of document.querySelectorAll("[data-open]")) button.addEventListener("click", () => go("/api/start/open", { name: button.dataset.open }));
if (form) {
  const held = localStorage.getItem("draft");
  if (held) Object.assign(draft, JSON.parse(held));
  document.getElementById("title").value = draft.show;
  document.getElementById("inputs").value = draft.inputs;
  const desk = [...form.querySelectorAll("[name=desk]")].find((own) => own.value === draft.desk);
  if (desk) desk.checked = true;
  draft.mixes.forEach(addMix);
  document.getElementById("add-mix").addEventListener("click", () => {
    addMix({ name: "", kind: "aux", width: "stereo", who: "", listens: "in-ear", takes: "" });
    document.querySelector("#mixes .mix:last-child input").focus();
  });
  form.addEventListener("input", later);
  const inputs = document.getElementById("inputs");
  const look = () => {
    read();
    understand();
  };
  inputs.addEventListener("paste", () => setTimeout(look));
  inputs.addEventListener("change", look);
  let typed = null;
  inputs.addEventListener("input", () => {
    clearTimeout(typed);
    typed = setTimeout(look, 900);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    forward();
  });
  document.getElementById("back").addEventListener("click", () => {
    read();
    draft.step -= 1;
    show();
    keep();
  });
  addEventListener("pagehide", () => {
    if (waiting === null) return;
    read();
    localStorage.setItem("draft", JSON.stringify(draft));
  });
  if (draft.step > 1) await understand();
  show();
  if (held) keep();
}
setInterval(() => ask("/api/state").catch(() => {}), 3000);
