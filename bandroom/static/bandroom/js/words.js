/* What the scripts of every page say, in the language of the page: {no, yes, copied, copiedSays, selected}.
   The sentences come from the server, with base.html. */

export const words = JSON.parse(document.getElementById("page-words")?.textContent ?? "{}");
