/* Keeps the screen lit while a student plays, hands on the instrument. A phone lets go of the lock whenever the page is
   out of sight; it is asked for again as soon as the page is back.

   new Screen().hold();  .letGo() */

export class Screen {
  constructor() {
    this.wanted = false;
    this.lock = null;
    document.addEventListener("visibilitychange", () => {
      if (this.wanted && document.visibilityState === "visible") this.ask();
    });
  }

  hold() {
    this.wanted = true;
    return this.ask();
  }

  async ask() {
    if (this.lock && !this.lock.released) return;
    try {
      this.lock = await navigator.wakeLock?.request("screen");
      if (!this.wanted) this.letGo();
    } catch {
      // A battery saver may refuse: the recording goes on, the screen may dim.
    }
  }

  letGo() {
    this.wanted = false;
    this.lock?.release().catch(() => {});
    this.lock = null;
  }
}
