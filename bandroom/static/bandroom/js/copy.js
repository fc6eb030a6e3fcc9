/* <button data-copy="#feed-address">: copies the value or the text of that element, and says so. */

import { say } from "./say.js";
import { words } from "./words.js";

document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-copy]");
  const source = button && document.querySelector(button.dataset.copy);
  if (!source) return;
  try {
    await navigator.clipboard.writeText(source.value ?? source.textContent.trim());
    const before = button.textContent;
    button.textContent = words.copied;
    say(words.copiedSays);
    setTimeout(() => {
      button.textContent = before;
    }, 2000);
  } catch {
    // no permission, or not a secure page: select it, so that one key copies it
    getSelection().selectAllChildren(source);
    source.select?.();
    say(words.selected);
  }
});
