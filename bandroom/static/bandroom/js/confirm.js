/* A question before what cannot be taken back.

   <form data-confirm="Withdraw this assignment? What was turned in stays." data-confirm-yes="Withdraw">
   or the same on its submit button. Without script the form goes straight through, so the server must allow undoing
   or ask on a page of its own where a wrong press would hurt. */

import { words as ours } from "./words.js";

const asked = new WeakSet();

export function ask(question, yes, no = ours.no) {
  return new Promise((resolve) => {
    const dialog = document.createElement("dialog");
    dialog.className = "dialog";
    dialog.setAttribute("aria-labelledby", "confirm-question");
    const words = document.createElement("p");
    words.id = "confirm-question";
    words.textContent = question;
    const form = document.createElement("form");
    form.method = "dialog";
    form.className = "dialog__end";
    for (const [value, text, kind] of [["no", no, "btn btn--quiet"], ["yes", yes, "btn btn--main"]]) {
      const button = document.createElement("button");
      Object.assign(button, { value, textContent: text, className: kind });
      form.append(button);
    }
    dialog.append(words, form);
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(dialog.returnValue === "yes");
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}

document.addEventListener(
  "submit",
  async (event) => {
    const form = event.target;
    const source = event.submitter?.dataset.confirm ? event.submitter : form;
    if (!source.dataset.confirm || asked.delete(form)) return;
    event.preventDefault();
    event.stopImmediatePropagation(); // nobody else may send it meanwhile
    if (await ask(source.dataset.confirm, source.dataset.confirmYes ?? ours.yes)) {
      asked.add(form);
      form.requestSubmit(event.submitter);
      asked.delete(form); // a form the browser found invalid was not sent: ask again next time
    }
  },
  true,
);
