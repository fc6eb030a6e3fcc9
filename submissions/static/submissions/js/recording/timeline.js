/* When each line of a take is counted off and played. Seconds are from the first count.

   timelineOf(plan) -> [{line, words, secondsPerBeat, counts, plays, ends}]: the lines one after the other, the first
     after its whole count-off, each other after one bar of it, as long as the bar's rest the listener expects there
   placeAt(timeline, seconds) -> {line, beat} while a line is played, null in a count-off and outside */

export function timelineOf(plan) {
  let from = 0;
  return plan.map((line, index) => {
    const words = index ? line.countOff.slice(-line.beatsInBar) : line.countOff;
    const secondsPerBeat = 60 / line.tempo;
    const plays = from + words.length * secondsPerBeat;
    const ends = plays + line.beats * secondsPerBeat;
    const part = { line, words, secondsPerBeat, counts: from, plays, ends };
    from = ends;
    return part;
  });
}

export function placeAt(timeline, seconds) {
  const part = timeline.find(({ plays, ends }) => seconds >= plays && seconds < ends);
  return part ? { line: part.line, beat: Math.floor((seconds - part.plays) / part.secondsPerBeat) } : null;
}
