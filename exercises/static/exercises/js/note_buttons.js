/* Notes of an engraved line that can be chosen: one tab stop a drawing, arrows from note to note.

   noteButtons(root, {buttons, choose})   choose(index) at a click, Enter or Space on one of `buttons`
   showThread(root, index)                the thread to this note alone, in every drawing of the root */

const ARROWS = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -1, ArrowDown: 1 };

export function noteButtons(root, { buttons, choose }) {
  for (const drawing of root.querySelectorAll("svg.line")) {
    drawing.querySelector(buttons)?.setAttribute("tabindex", "0");
  }
  root.classList.add("is-live");
  root.addEventListener("click", (event) => {
    const button = event.target.closest(buttons);
    if (!button) return;
    hold(button);
    choose(Number(button.dataset.note));
  });
  root.addEventListener("keydown", (event) => {
    const button = event.target.closest?.(buttons);
    if (!button || event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      choose(Number(button.dataset.note));
      return;
    }
    const all = others(button);
    const next = { Home: all[0], End: all.at(-1) }[event.key] ?? all[all.indexOf(button) + (ARROWS[event.key] ?? NaN)];
    if (!next) return;
    event.preventDefault();
    hold(next);
    next.focus();
  });

  const others = (button) => [...button.closest("svg").querySelectorAll(buttons)];

  function hold(button) {
    for (const other of others(button)) other.setAttribute("tabindex", other === button ? "0" : "-1");
  }
}

export function showThread(root, index) {
  for (const thread of root.querySelectorAll("[data-thread]")) {
    thread.classList.toggle("is-on", thread.dataset.thread === String(index));
  }
}
