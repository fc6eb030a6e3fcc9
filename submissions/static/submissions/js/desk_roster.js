/* The roster: a changed choice shows at once. Without this module the button does it. */

const choice = document.querySelector("[data-choice]");
choice?.addEventListener("change", () => choice.requestSubmit());
