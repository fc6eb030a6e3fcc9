/* One tab stop for many things; arrow keys go from one to the next.

   <svg data-rove="seats">   arrows go to the nearest link in that direction, as it is drawn
   <ul data-rove="list">     Up and Down (also Left and Right) go in order
   Home and End go to the first and the last. What has aria-current, else the first, holds the tab stop; after that
   whatever had the focus last. Works on parts that arrive later too; without script every thing is a tab stop. */

const THINGS = "a[href], button:not(:disabled)";
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
// how much a step aside counts against a step ahead: the next chair in the row, not one in the row behind
const ASIDE = 3;

const thingsOf = (root) => [...root.querySelectorAll(THINGS)].filter((thing) => thing.getClientRects().length > 0);

function hold(root, chosen) {
  for (const thing of root.querySelectorAll(THINGS)) thing.setAttribute("tabindex", thing === chosen ? "0" : "-1");
}

function middle(thing) {
  const box = thing.getBoundingClientRect();
  return [box.x + box.width / 2, box.y + box.height / 2];
}

function nearest(from, things, [stepX, stepY]) {
  const [x, y] = middle(from);
  let best = null;
  let least = Infinity;
  for (const thing of things) {
    const [otherX, otherY] = middle(thing);
    const ahead = (otherX - x) * stepX + (otherY - y) * stepY;
    const aside = Math.abs((otherX - x) * stepY) + Math.abs((otherY - y) * stepX);
    if (thing === from || ahead < 1) continue;
    const far = ahead + ASIDE * aside;
    if (far < least) [best, least] = [thing, far];
  }
  return best;
}

function next(root, from, key) {
  const things = thingsOf(root);
  if (key === "Home") return things[0];
  if (key === "End") return things.at(-1);
  const step = STEPS[key];
  if (!step) return null;
  if (root.dataset.rove === "seats") return nearest(from, things, step);
  return things[things.indexOf(from) + step[0] + step[1]] ?? null;
}

export function rove(root) {
  hold(root, root.querySelector(`:is(${THINGS})[aria-current]`) ?? root.querySelector(THINGS));
}

function roveAll(within) {
  for (const root of within.querySelectorAll("[data-rove]")) rove(root);
}

document.addEventListener("focusin", (event) => {
  const thing = event.target.closest?.(THINGS);
  const root = thing?.closest("[data-rove]");
  if (root) hold(root, thing);
});

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const thing = event.target.closest?.(THINGS);
  const root = thing?.closest("[data-rove]");
  const chosen = root && next(root, thing, event.key);
  if (!chosen) return;
  event.preventDefault();
  hold(root, chosen);
  chosen.focus();
});

roveAll(document);
