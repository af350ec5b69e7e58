// Talks to the program: asks, tells, and notices when it is gone. What could not be told is told again.

const body = document.body;
export const about = {
  token: body.dataset.token || "",
  revision: body.dataset.revision || "",
  owner: body.dataset.owner === "yes",
};

const watchers = new Set();
let gone = false;

export function onGone(watcher) {
  watchers.add(watcher);
}

function setGone(now) {
  if (now === gone) return;
  gone = now;
  for (const watcher of watchers) watcher(gone);
}

export class Refused extends Error {
  constructor(status, told) {
    super(told.what);
    this.status = status;
    this.kind = told.kind;
    this.findings = told.findings || [];
    this.difference = told.difference || [];
  }
}

async function send(path, options) {
  let answer;
  try {
    answer = await fetch(path, options);
  } catch (error) {
    if (error.name !== "AbortError") setGone(true);
    throw error;
  }
  setGone(false);
  return answer;
}

async function checked(answer) {
  if (answer.ok) return answer;
  let told = { kind: "refused", what: `The program answered ${answer.status}` };
  try {
    told = await answer.json();
  } catch {
    // it had nothing to say
  }
  throw new Refused(answer.status, told);
}

export async function ask(path, options = {}) {
  const answer = await checked(await send(path, options));
  return (answer.headers.get("content-type") || "").includes("json") ? answer.json() : answer.text();
}

// A part, and whether it is of the text that this page is about.
export async function askPart(part) {
  const answer = await checked(await send(`/part/${part}`, {}));
  return { text: await answer.text(), same: answer.headers.get("x-revision") === about.revision };
}

export async function tell(path, what = {}, again = true) {
  const headers = { "content-type": "application/json", "x-sidetrip-token": about.token };
  const answer = await send(path, { method: "POST", headers, body: JSON.stringify(what) });
  try {
    return await (await checked(answer)).json();
  } catch (error) {
    if (error.kind !== "token" || !again) throw error;
    about.token = (await ask("/api/state")).token; // the program was started anew
    return tell(path, what, false);
  }
}

export function say(words) {
  const place = document.getElementById("says");
  if (!place) return;
  place.textContent = "";
  requestAnimationFrame(() => (place.textContent = words));
  clearTimeout(say.timer);
  say.timer = setTimeout(() => (place.textContent = ""), 9000);
}

export function element(name, values = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(values)) {
    if (key in made && key !== "list") made[key] = value;
    else made.setAttribute(key, value);
  }
  made.append(...inside);
  return made;
}

export function showRefusal(error) {
  const place = document.getElementById("refused");
  if (!place || error.name === "AbortError") return;
  if (!(error instanceof Refused)) {
    say("Not done: the program does not answer. Try it again when it does.");
    return;
  }
  place.replaceChildren(element("p", {}, element("strong", { textContent: "Not done. " }), `${error.message}.`));
  if (error.findings.length) {
    const list = element("ul");
    for (const own of error.findings) list.append(element("li", { textContent: `${own.where}: ${own.what}. ${own.remedy}.` }));
    place.append(list);
  }
  if (error.difference.length) place.append(element("pre", { textContent: error.difference.join("\n") }));
  place.append(element("button", { type: "button", className: "plain", textContent: "Put this away", onclick: () => (place.hidden = true) }));
  place.hidden = false;
  place.focus({ preventScroll: true });
}
