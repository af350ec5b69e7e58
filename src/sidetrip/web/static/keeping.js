// A part that is shown anew keeps what the hand was at: focus, what was unfolded, ticks of the card.

const CARD = "card ticks";

function name(own) {
  return [own.tagName, own.id, own.className, ...Object.values(own.dataset), own.getAttribute("aria-label") || own.textContent.trim()].join("|");
}

function alike(part, key) {
  return [...part.querySelectorAll("a, button, input, select, summary, textarea, [tabindex]")].filter((own) => name(own) === key);
}

function unfolded(part) {
  return [...part.querySelectorAll("details")].map((own) => `${own.closest("[data-strip]")?.dataset.strip}|${own.closest("[data-way]")?.dataset.way}`);
}

// Returns what puts it all back once the part has its new content.
export function held(part) {
  const own = part.contains(document.activeElement) ? document.activeElement : null;
  const key = own && name(own);
  const number = own ? alike(part, key).indexOf(own) : -1;
  const names = unfolded(part);
  const open = new Set([...part.querySelectorAll("details")].flatMap((one, at) => (one.open ? [names[at]] : [])));
  return () => {
    const now = unfolded(part);
    [...part.querySelectorAll("details")].forEach((one, at) => (one.open = open.has(now[at])));
    if (!own) return;
    const found = alike(part, key);
    (found[number] || found[0])?.focus({ preventScroll: true });
  };
}

function typing(part) {
  return part.contains(document.activeElement) && document.activeElement.matches("input:not([type=checkbox], [type=radio], [type=range]), textarea");
}

// Resolves when nobody is typing in a part.
export function atRest(part) {
  return new Promise((resolve) => {
    if (!typing(part)) {
      resolve();
      return;
    }
    const look = () =>
      setTimeout(() => {
        if (typing(part)) return;
        part.removeEventListener("focusout", look);
        resolve();
      });
    part.addEventListener("focusout", look);
  });
}

function boxes() {
  return [...document.querySelectorAll("[data-local]")];
}

function label(box) {
  return box.closest("label").textContent.trim();
}

function takeUp() {
  const ticked = JSON.parse(sessionStorage.getItem(CARD) || "[]");
  for (const box of boxes()) box.checked = ticked.includes(label(box));
}

// Ticks of the card belong to this screen: they outlive a reload, and nobody else sees them.
export function startCard() {
  document.addEventListener("change", (event) => {
    if (event.target.matches("[data-local]")) sessionStorage.setItem(CARD, JSON.stringify(boxes().filter((box) => box.checked).map(label)));
  });
  document.addEventListener("click", (event) => {
    if (!event.target.closest("#clear-card")) return;
    sessionStorage.removeItem(CARD);
    takeUp();
  });
  document.addEventListener("renewed", takeUp);
  takeUp();
}
