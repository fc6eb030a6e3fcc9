/* What a browser promises and never answers: a question nobody sees, a sound system that is held by another program.

   within(promise, ms) -> Promise   its answer, or NoAnswer after so many milliseconds
   wakeAudio(context) -> Promise    the context runs; NoAnswer where the browser never says so */

const AUDIO_WITHIN_MS = 5000;

export class NoAnswer extends Error {}

export function within(promise, ms) {
  let timer;
  const late = new Promise((_, reject) => {
    timer = setTimeout(() => reject(new NoAnswer(`no answer in ${ms} ms`)), ms);
  });
  return Promise.race([promise, late]).finally(() => clearTimeout(timer));
}

export function wakeAudio(context) {
  return within(context.resume(), AUDIO_WITHIN_MS);
}
