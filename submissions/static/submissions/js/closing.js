/* askBeforeClosing(isSending): while bytes are on their way the browser asks, in its own words, before the page goes. */

let isSending = false;

export function askBeforeClosing(now) {
  isSending = now;
}

window.addEventListener("beforeunload", (event) => {
  if (isSending) event.preventDefault();
});
