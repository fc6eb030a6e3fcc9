/* Two recordings at once would each hold half of what was played; one tab of a student records at a time.

   new OneTab(name).enter() -> Promise<whether this tab may record>;  .leave() */

export class OneTab {
  constructor(name) {
    this.name = name;
    this.held = null;
    this.release = null;
  }

  async enter() {
    await this.leave();
    if (!navigator.locks) return true;
    return new Promise((answer) => {
      this.held = navigator.locks.request(this.name, { ifAvailable: true }, (lock) => {
        answer(Boolean(lock));
        return lock ? new Promise((release) => (this.release = release)) : undefined;
      });
    });
  }

  async leave() {
    this.release?.();
    this.release = null;
    await this.held;
  }
}
