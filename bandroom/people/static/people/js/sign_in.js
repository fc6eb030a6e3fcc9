/* Three words in three boxes: a space or a hyphen goes on to the next, a pasted passphrase spreads out. Without this
   the page works as well: all three words may stand in the first box. */

const boxes = [...document.querySelectorAll("[data-words] input")];

boxes.forEach((box, index) => {
  box.addEventListener("input", () => {
    const words = box.value.split(/[\s\-–—,.]+/);
    if (words.length < 2) return;
    const room = boxes.slice(index);
    if (words[0] === "" && words.length === 2) {
      box.value = words[1];
      return;
    }
    const filled = words.filter((word) => word !== "").slice(0, room.length);
    filled.forEach((word, at) => {
      room[at].value = word;
    });
    room[Math.min(filled.length, room.length - 1)].focus();
  });
  box.addEventListener("keydown", (event) => {
    if (event.key === "Backspace" && box.value === "" && index > 0) {
      event.preventDefault();
      boxes[index - 1].focus();
    }
  });
});
