/* The take of one line: play, slower with the pitch kept, the line that moves, and jumps by note and bar.

   startPlayer(judge, {chose}) -> { toggle(), pause(), isPlaying, step(±1), stepBar(±1), choose(number), again() }
     chose(number)  a note was chosen by key or pointer; the page shows its words
   The drawing carries the times: data-times on the shelf (seconds, place, system of every beat) and data-at on each
   note. Nothing is fetched before somebody plays: every listen is on record. */

const SPEEDS = [
  [1, "full speed"],
  [0.75, "¾ speed"],
  [0.5, "½ speed"],
];
const SPEED = "bandroom.desk.speed";
const EARLY = 0.04; // a note counts as reached this many seconds before its onset

let speed = 0;
try {
  speed = SPEEDS.findIndex(([rate]) => String(rate) === sessionStorage.getItem(SPEED));
} catch {
  // storage is refused: full speed
}
speed = Math.max(speed, 0);

export function slower(judges) {
  speed = (speed + 1) % SPEEDS.length;
  try {
    sessionStorage.setItem(SPEED, String(SPEEDS[speed][0]));
  } catch {
    // remembered on this page alone
  }
  for (const judge of judges) applySpeed(judge);
  return SPEEDS[speed][1];
}

function applySpeed(judge) {
  const audio = judge.querySelector("[data-sound]");
  if (audio) {
    audio.preservesPitch = true;
    audio.playbackRate = SPEEDS[speed][0];
  }
  const button = judge.querySelector("[data-speed]");
  if (button) button.textContent = SPEEDS[speed][1];
}

const seen = (element) => element.getClientRects().length > 0;

export function startPlayer(judge, { chose }) {
  const audio = judge.querySelector("[data-sound]");
  const button = judge.querySelector("[data-play]");
  let chosen = -1;

  if (audio) {
    audio.removeAttribute("controls");
    audio.hidden = true;
    button.hidden = false;
    judge.querySelector("[data-speed]").hidden = false;
    applySpeed(judge);
    audio.addEventListener("play", drawWhilePlaying);
    for (const name of ["play", "pause", "ended"]) audio.addEventListener(name, showState);
    audio.addEventListener("loadedmetadata", () => applySpeed(judge));
    audio.addEventListener("seeked", draw);
    audio.addEventListener("error", () => {
      judge.querySelector("[data-play-word]").textContent = "No sound";
    });
  }

  const drawing = () => [...judge.querySelectorAll("svg.line")].find(seen) ?? judge.querySelector("svg.line");
  const hits = () => [...(drawing()?.querySelectorAll(".shelf__hit") ?? [])];
  const firstHit = (number) => hits().find((hit) => Number(hit.dataset.note) === number);

  function showState() {
    judge.querySelector("[data-play-word]").textContent = audio.paused ? "Play" : "Pause";
    draw();
  }

  function points() {
    const times = drawing()?.querySelector("[data-times]")?.dataset.times ?? "";
    return times.split(";").filter(Boolean).map((point) => point.split(",").map(Number));
  }

  function placeOf(seconds) {
    const all = points();
    for (let i = 1; i < all.length; i += 1) {
      const [[from, left, system], [until, right, next]] = [all[i - 1], all[i]];
      if (seconds < from || seconds >= until) continue;
      // over the end of a system the line waits at its last bar line, then begins the next
      if (system !== next) return [left, system];
      return [left + ((seconds - from) / (until - from)) * (right - left), system];
    }
    return null;
  }

  function draw() {
    const head = drawing()?.querySelector(".shelf__head");
    if (!head || !audio) return;
    const place = placeOf(audio.currentTime);
    head.classList.toggle("is-off", !place || (audio.paused && audio.currentTime === 0));
    if (place) {
      const [x, system] = place;
      const [top, bottom] = head.dataset.reach.split(";")[system].split(",").map(Number);
      head.setAttribute("transform", `translate(${x.toFixed(1)} ${top})`);
      head.querySelector(".shelf__play").setAttribute("d", `M0 0V${bottom - top}`);
    }
    if (!audio.paused) light(hits().findLast((hit) => Number(hit.dataset.at) <= audio.currentTime + EARLY));
  }

  function drawWhilePlaying() {
    draw();
    if (!audio.paused) requestAnimationFrame(drawWhilePlaying);
  }

  // The light falls on every tray of the note, in both drawings.
  function light(hit) {
    const number = hit ? Number(hit.dataset.note) : -1;
    for (const svg of judge.querySelectorAll("svg.line")) {
      const shelf = svg.querySelector(".shelf");
      if (!shelf || Number(shelf.dataset.lit ?? -2) === number) continue;
      shelf.dataset.lit = number;
      for (const old of shelf.querySelectorAll(".shelf__now")) old.remove();
      for (const part of shelf.querySelectorAll(`.shelf__hit[data-note="${number}"]`)) {
        const glow = document.createElementNS("http://www.w3.org/2000/svg", "rect");
        for (const name of ["x", "y", "width", "height"]) glow.setAttribute(name, part.getAttribute(name));
        glow.setAttribute("class", "shelf__now");
        shelf.prepend(glow);
      }
    }
  }

  function choose(number, { seek = true } = {}) {
    const hit = firstHit(number);
    if (!hit) return;
    chosen = number;
    if (seek && audio && hit.dataset.at) audio.currentTime = Number(hit.dataset.at);
    light(hit);
    chose(number);
  }

  function here() {
    if (audio && !audio.paused) return Number(hits().findLast((hit) => Number(hit.dataset.at) <= audio.currentTime + EARLY)?.dataset.note ?? -1);
    return chosen;
  }

  judge.addEventListener("click", (event) => {
    const hit = event.target.closest?.(".shelf__hit");
    if (hit) {
      choose(Number(hit.dataset.note));
      if (audio && hit.dataset.at) audio.play();
    } else if (event.target.closest?.("[data-play]")) toggle();
  });

  function toggle() {
    if (!audio) return false;
    if (audio.paused) audio.play().catch(() => {}); // the "error" event has said so
    else audio.pause();
    return true;
  }

  return {
    toggle,
    choose,
    pause: () => audio?.pause(),
    get isPlaying() {
      return Boolean(audio && !audio.paused);
    },
    get chosen() {
      return chosen;
    },
    step(by) {
      const last = Number(hits().at(-1)?.dataset.note ?? -1);
      choose(Math.min(Math.max(here() + by, 0), last));
    },
    stepBar(by) {
      const all = hits();
      const bars = [...new Set(all.map((hit) => hit.dataset.bar))];
      const bar = bars[bars.indexOf(firstHit(Math.max(here(), 0))?.dataset.bar) + (here() < 0 ? 0 : by)];
      const hit = all.find((one) => one.dataset.bar === bar);
      if (hit) choose(Number(hit.dataset.note));
    },
    again: () => {
      if (chosen >= 0) choose(chosen, { seek: false });
    },
  };
}
