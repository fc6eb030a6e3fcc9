/* SHA-256 (FIPS 180-4) of bytes that come in pieces, so that a file of any size is hashed in little memory.

   new Sha256().add(Uint8Array).add(…).hex() -> 64 letters. The browser's own digest wants the whole file at once, and
   does not exist on a page without HTTPS. */

const K = new Uint32Array(64);
const START = new Uint32Array(8);

// The fractional parts of the cube roots of the first 64 primes, and of the square roots of the first 8.
for (let number = 2, count = 0; count < 64; number += 1) {
  let prime = true;
  for (let divisor = 2; divisor * divisor <= number; divisor += 1) if (number % divisor === 0) prime = false;
  if (!prime) continue;
  if (count < 8) START[count] = fraction(Math.sqrt(number));
  K[count] = fraction(Math.cbrt(number));
  count += 1;
}

function fraction(value) {
  return ((value - Math.floor(value)) * 2 ** 32) >>> 0;
}

export class Sha256 {
  constructor() {
    this.state = START.slice();
    this.block = new Uint8Array(64);
    this.words = new Uint32Array(64);
    this.filled = 0;
    this.length = 0;
  }

  add(bytes) {
    this.length += bytes.length;
    let place = 0;
    if (this.filled) {
      const fits = Math.min(64 - this.filled, bytes.length);
      this.block.set(bytes.subarray(0, fits), this.filled);
      this.filled += fits;
      place = fits;
      if (this.filled < 64) return this;
      this.mix(this.block, 0);
    }
    for (; place + 64 <= bytes.length; place += 64) this.mix(bytes, place);
    this.block.set(bytes.subarray(place), 0);
    this.filled = bytes.length - place;
    return this;
  }

  hex() {
    const end = new Uint8Array((this.filled < 56 ? 64 : 128) - this.filled);
    end[0] = 0x80;
    const view = new DataView(end.buffer);
    view.setUint32(end.length - 8, Math.floor(this.length / 2 ** 29));
    view.setUint32(end.length - 4, this.length << 3);
    this.add(end);
    return Array.from(this.state, (word) => word.toString(16).padStart(8, "0")).join("");
  }

  mix(bytes, from) {
    const { words, state } = this;
    for (let i = 0, at = from; i < 16; i += 1, at += 4) {
      words[i] = (bytes[at] << 24) | (bytes[at + 1] << 16) | (bytes[at + 2] << 8) | bytes[at + 3];
    }
    for (let i = 16; i < 64; i += 1) {
      const a = words[i - 15];
      const b = words[i - 2];
      const s0 = ((a >>> 7) | (a << 25)) ^ ((a >>> 18) | (a << 14)) ^ (a >>> 3);
      const s1 = ((b >>> 17) | (b << 15)) ^ ((b >>> 19) | (b << 13)) ^ (b >>> 10);
      words[i] = words[i - 16] + s0 + words[i - 7] + s1;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 64; i += 1) {
      const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
      const one = (h + s1 + ((e & f) ^ (~e & g)) + K[i] + words[i]) | 0;
      const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      h = g;
      g = f;
      f = e;
      e = (d + one) | 0;
      d = c;
      c = b;
      b = a;
      a = (one + two) | 0;
    }
    state[0] += a;
    state[1] += b;
    state[2] += c;
    state[3] += d;
    state[4] += e;
    state[5] += f;
    state[6] += g;
    state[7] += h;
  }
}
