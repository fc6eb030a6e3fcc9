/* A student's list of work: opens without a network, with what it leads to, and sends on what still lies here. */

import { keepOffline } from "./offline.js";
import { askBeforeClosing } from "./closing.js";
import { takesOf } from "./store.js";
import { createSender } from "./upload.js";

const place = document.querySelector("[data-still-sending]");
const user = Number(place?.dataset.user);
const sender = createSender({ user });

async function draw() {
  const isSending = (await takesOf(user)).some((take) => take.state === "queued");
  place.hidden = !isSending;
  askBeforeClosing(isSending);
}

sender.addEventListener("change", draw);
sender.addEventListener("idle", draw);
keepOffline();
if (place) {
  draw()
    .then(() => sender.start())
    .catch(console.info); // a browser without storage has nothing to send
}
