/* When does what sound, and what is lit? One pass through a line, in seconds from its first count.

   planPass(line, {tempo, from, to, clicks, tones}) -> {seconds, lineAt, clicks, tones, lights}
     line      the page's data: countOff, countOffInside, metre, playback (beats are quarter notes)
     from, to  printed numbers of the first and the last bar
     clicks    [{at, accent}]
     tones     [{at, seconds, hz}]; hz null is a drum stroke
     lights    [{at, count, counts, word, note, breathe}]: at each count, and at each note between counts;
               `note` is null while the count-off runs, `word` is what is counted before the line
   Pure: no clock, no sound. */

const SOUNDING = 0.94; // a tone ends a little early, so that two equal notes are heard as two

export function planPass(line, { tempo, from, to, clicks = true, tones = true }) {
  const perQuarter = 60 / tempo;
  const bars = line.playback.bars;
  const first = Math.max(0, bars.findIndex((bar) => bar.bar === from));
  const last = Math.max(first, bars.findIndex((bar) => bar.bar === to));
  const start = bars[first].start;
  const end = bars[last + 1]?.start ?? line.playback.beats;
  const counts = first === 0 ? line.countOff : line.countOffInside;
  const counted = counts.length ? -counts[0].start : 0;
  const lineAt = counted * perQuarter;
  const time = (beat) => lineAt + (beat - start) * perQuarter;

  const plan = { seconds: time(end), lineAt, clicks: [], tones: [], lights: [] };
  counts.forEach((count, index) => {
    const at = (count.start + counted) * perQuarter;
    plan.clicks.push({ at, accent: count.accent });
    const place = { count: index % line.metre.counts, counts: line.metre.counts };
    plan.lights.push({ at, ...place, word: count.label, note: null, breathe: count.breathe });
  });
  const beats = countsOf(line, first, last, end);
  for (const beat of beats) plan.clicks.push({ at: time(beat.start), accent: beat.accent });
  plan.lights.push(...lightsOf(line, beats, start, end, time));
  for (const sound of line.playback.sounds) {
    if (sound.start < start || sound.start >= end) continue;
    const length = Math.min(sound.beats, end - sound.start) * perQuarter;
    plan.tones.push({ at: time(sound.start), seconds: length * SOUNDING, hz: sound.hertz });
  }
  if (!clicks) plan.clicks = plan.clicks.filter((click) => click.at < lineAt - 1e-9);
  if (!tones) plan.tones = [];
  return plan;
}

/* Every count of the bars: {start, count from 0, accent}. A pickup bar begins in the middle of its counts. */
function countsOf(line, first, last, end) {
  const { unit } = line.metre;
  const found = [];
  for (let place = first; place <= last; place += 1) {
    const bar = line.playback.bars[place];
    const until = Math.min(line.playback.bars[place + 1]?.start ?? end, end);
    const led = place === 0 ? line.playback.lead_in : 0;
    for (let beat = bar.start; beat < until - 1e-9; beat += unit) {
      const count = Math.round((beat - bar.start + led) / unit);
      found.push({ start: beat, count, accent: count === 0 });
    }
  }
  return found;
}

/* One light for each count, and one for each note that begins between two counts. */
function lightsOf(line, beats, start, end, time) {
  const stops = line.playback.cursor.filter((stop) => stop.start >= start && stop.start < end);
  const moments = new Set([...beats.map((beat) => beat.start), ...stops.map((stop) => stop.start)]);
  return [...moments]
    .sort((a, b) => a - b)
    .map((moment) => {
      const beat = beats.findLast((each) => each.start <= moment) ?? beats[0];
      const stop = stops.findLast((each) => each.start <= moment);
      const place = { count: beat.count, counts: line.metre.counts };
      return { at: time(moment), ...place, word: "", note: stop?.note ?? null, breathe: false };
    });
}
