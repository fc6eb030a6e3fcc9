/* fill("{now} of about {whole}", {now: "0:05", whole: "0:13"}); clock(65) -> "1:05" */

export function fill(sentence, values) {
  return sentence.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
}

export function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
