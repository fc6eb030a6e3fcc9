/* Single keys for what stands on the page.

   <button data-key="J">         the key presses it (a text box, list or radio gets the focus instead)
   <a data-key="K" data-key-says="Back to the student before">   its words in the list; else its own text
   Names: one character ("j" and "J" are the same), "Enter", "Space", "Escape", "ArrowLeft", …
   Of several on the page with one key the first that can be seen is meant.

   bindKey({keys, says, run, shown}) -> function that takes it away again
     for keys that belong to no element: keys ["1", "2", "3"], shown "1–3", run(key, event).
     Bound last is asked first; a run that returns false lets the key go on.

   "?" or a button with data-show-keys opens the list of keys, made from the page as it is. There a person can turn single keys off (WCAG 2.2, 2.1.4);
   the browser remembers it. Keys do nothing while someone types, while a dialog is open, or with Ctrl, Alt or Meta. */

const OFF = "bandroom.keys-off";
const TYPED_IN = 'input:not([type="radio"], [type="checkbox"], [type="button"], [type="submit"]), textarea, select, [contenteditable="true"]';
// What the browser itself does with a key on these comes first: nobody who tabs loses the way to press a thing.
const NATIVE = {
  Enter: "a[href], button, summary, audio, video",
  Space: 'button, summary, audio, video, input:not([type="radio"]:checked)',
  Arrow: 'input[type="radio"], audio, video',
};

const bound = [];

const nameOf = (key) => (key === " " ? "Space" : key.length === 1 ? key.toUpperCase() : key);

function isOff() {
  try {
    return localStorage.getItem(OFF) === "1";
  } catch {
    return false; // storage is refused: keys stay on for this page
  }
}

function turn(off) {
  try {
    localStorage.setItem(OFF, off ? "1" : "0");
  } catch {
    // nothing to remember it with
  }
}

const isSeen = (element) => element.checkVisibility?.() ?? element.getClientRects().length > 0;

function elementFor(name) {
  return [...document.querySelectorAll("[data-key]")].find(
    (element) => nameOf(element.dataset.key) === name && isSeen(element) && !element.matches(":disabled"),
  );
}

function press(element) {
  if (element.matches("input, textarea, select")) element.focus();
  else element.click();
}

export function bindKey({ keys, says, run, shown = keys.join(" ") }) {
  const binding = { keys: keys.map(nameOf), says, run, shown };
  bound.unshift(binding);
  announce();
  return () => bound.splice(bound.indexOf(binding), 1);
}

function listed() {
  const rows = [];
  const seen = new Set();
  for (const { shown, says } of bound) if (says) rows.push([shown, says]);
  for (const element of document.querySelectorAll("[data-key]")) {
    const name = nameOf(element.dataset.key);
    if (seen.has(name) || !isSeen(element)) continue;
    seen.add(name);
    const copy = element.cloneNode(true);
    for (const key of copy.querySelectorAll(".key")) key.remove();
    const label = element.labels?.[0]?.textContent ?? copy.textContent;
    rows.push([name, element.dataset.keySays ?? element.getAttribute("aria-label") ?? label.trim().replace(/\s+/g, " ")]);
  }
  rows.push(["?", "Show these keys"]);
  return rows;
}

function element(name, { className, text, ...attributes } = {}) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text) made.textContent = text;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

export function showKeys() {
  const dialog = element("dialog", { className: "dialog", "aria-labelledby": "keys-title" });
  dialog.append(element("h2", { text: "Keys on this page", id: "keys-title" }));
  const list = element("dl", { className: "keys" });
  for (const [key, says] of listed()) {
    const term = element("dt");
    term.append(element("kbd", { className: "key", text: key }));
    list.append(term, element("dd", { text: says }));
  }
  const check = element("label", { className: "check" });
  const box = element("input", { type: "checkbox" });
  box.checked = !isOff();
  box.addEventListener("change", () => turn(!box.checked));
  check.append(box, element("span", { text: "Use single keys (turn off if they get in the way of speech or switch input)" }));
  const end = element("form", { className: "dialog__end", method: "dialog" });
  end.append(element("button", { className: "btn btn--main", text: "Close" }));
  dialog.append(list, check, end);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey) return;
  const target = event.target;
  if (target.matches?.(TYPED_IN) || document.querySelector("dialog[open]")) return;
  if (isOff()) return;
  if (event.key === "?") {
    event.preventDefault();
    showKeys();
    return;
  }
  const name = nameOf(event.key);
  const native = NATIVE[name.startsWith("Arrow") ? "Arrow" : name];
  if (native && target.matches?.(native)) return;
  for (const { keys, run } of bound) {
    if (keys.includes(name) && run(name, event) !== false) {
      event.preventDefault();
      return;
    }
  }
  if (event.repeat) return;
  const found = elementFor(name);
  if (!found) return;
  event.preventDefault();
  press(found);
});

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-show-keys]")) showKeys();
});

/* A page with keys shows the button that lists them (with single keys off, "?" is off too), and each element says
   its key to those who hear the page. */
function announce() {
  const shortcuts = document.querySelectorAll("[data-key]");
  for (const shortcut of shortcuts) shortcut.setAttribute("aria-keyshortcuts", nameOf(shortcut.dataset.key));
  const hidden = bound.length === 0 && shortcuts.length === 0;
  for (const button of document.querySelectorAll("[data-show-keys]")) button.hidden = hidden;
}

announce();
