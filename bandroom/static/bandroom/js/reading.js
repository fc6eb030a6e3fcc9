/* A page kept for use without a network was made before the switches stood as they stand now: it follows the cookie. */

const MEDIA = { roomy: "not all", strong: "(prefers-contrast: more)" };
const asked = document.cookie.match(/(?:^|; )reading=([^;]*)/)?.[1] ?? "";

for (const [name, otherwise] of Object.entries(MEDIA)) {
  const on = asked.split(".").includes(name);
  for (const sheet of document.querySelectorAll(`link[data-reading="${name}"]`)) sheet.media = on ? "all" : otherwise;
  for (const button of document.querySelectorAll(`button[data-reading="${name}"]`)) {
    button.value = on ? "off" : "on";
    button.setAttribute("aria-pressed", String(on));
  }
}
