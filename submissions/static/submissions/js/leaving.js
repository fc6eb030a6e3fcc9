/* Signing out while recordings lie here that the school does not have: the student chooses to wait, or to leave them.

   <form data-leaving data-user data-unsent="the question" data-leave data-wait>   the form that signs a student out
   What is left here is filed under its student: nobody else sees it, and it goes on at the next sign-in on this device. */

import { ask } from "../../bandroom/js/confirm.js";
import { pressesOf, takesOf } from "./store.js";

const UNSENT = ["recording", "copying", "kept", "queued"];
const form = document.querySelector("form[data-leaving]");
let decided = false;

form?.addEventListener("submit", async (event) => {
  if (decided) return;
  event.preventDefault();
  if ((await hasUnsent(Number(form.dataset.user))) && !(await ask(form.dataset.unsent, form.dataset.leave, form.dataset.wait))) {
    return;
  }
  decided = true;
  form.requestSubmit();
});

async function hasUnsent(user) {
  try {
    const takes = await takesOf(user);
    return takes.some((take) => UNSENT.includes(take.state)) || (await pressesOf(user)).length > 0;
  } catch (error) {
    console.info("This browser keeps nothing, so nothing can be left here.", error);
    return false;
  }
}
