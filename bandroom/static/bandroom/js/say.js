/* say(text): tell those who hear the page what has just changed. Base.html holds the live region. */

export function say(text) {
  const region = document.querySelector("#say");
  if (!region) return;
  region.textContent = "";
  // a region that is emptied and filled in one task may be read as unchanged
  requestAnimationFrame(() => {
    region.textContent = text;
  });
}
