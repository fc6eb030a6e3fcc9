/* A student presses "Turn in". The press is kept with the phone's own time and goes as soon as there is a network: first
   one small request that names the takes and their hashes, then the bytes. */

import { changeTake, pressesOf, putPress, takeOf } from "./store.js";

/** @param takes the take that counts for each line, {A: id, B: id}; one take may count for both */
export async function turnIn({ user, assignment, takes, sender }) {
  const press = { user, assignment, takes, pressedAt: Date.now() };
  await putPress(press);
  for (const id of new Set(Object.values(takes))) {
    const take = await takeOf(user, id);
    if (take?.state === "kept" || take?.state === "refused") {
      await changeTake(user, id, { state: "queued", says: "" });
    }
  }
  sender?.now();
  return press;
}

/** Presses that the school has not answered yet: [{assignment, takes, pressedAt}, …] */
export function pendingTurnIns(user) {
  return pressesOf(user);
}
