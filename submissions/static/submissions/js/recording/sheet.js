/* The part on the page: which line is shown, and which bar and beat of it are lit.

   new Sheet(root).show(label);  .light(label, bar, beat);  .clear()
   Each line is engraved twice, for a narrow and a wide screen; both are lit, one of them is seen. */

export class Sheet {
  constructor(root) {
    this.root = root;
    this.now = "";
  }

  show(label) {
    for (const sheet of this.root.querySelectorAll("[data-sheet]")) sheet.hidden = sheet.dataset.sheet !== label;
  }

  light(label, bar, beat) {
    const now = `${label} ${bar} ${beat}`;
    if (now === this.now) return;
    this.now = now;
    this.show(label);
    for (const sheet of this.root.querySelectorAll("[data-sheet]")) {
      const own = sheet.dataset.sheet === label;
      for (const light of sheet.querySelectorAll(".bar-light")) {
        light.classList.toggle("is-on", own && Number(light.dataset.bar) === bar);
      }
      for (const line of sheet.querySelectorAll(".beat-line")) {
        line.classList.toggle("is-on", own && Number(line.dataset.at) === beat);
      }
    }
    this.bringIntoView();
  }

  /** A long part moves along; one that fits stands still. */
  bringIntoView() {
    const lit = [...this.root.querySelectorAll(".bar-light.is-on")].find((light) => light.getClientRects().length);
    if (!lit) return;
    const { top, bottom, left, right } = lit.getBoundingClientRect();
    const beats = this.root.querySelector("[data-beats]");
    const dock = document.querySelector(".dock")?.getBoundingClientRect();
    const ceiling = beats.hidden ? 0 : beats.getBoundingClientRect().bottom;
    const floor = dock && dock.top > ceiling ? dock.top : innerHeight;
    if (top < ceiling || bottom > floor || left < 0 || right > innerWidth) {
      lit.scrollIntoView({ block: "center", inline: "center", behavior: "instant" });
    }
  }

  clear() {
    this.now = "";
    for (const lit of this.root.querySelectorAll(".bar-light.is-on, .beat-line.is-on")) lit.classList.remove("is-on");
  }
}
