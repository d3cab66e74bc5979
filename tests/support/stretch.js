// What the page stretches, for a test that measures it: a recording's samples in, as base64 of 32-bit floats, and out.
import { attacksIn } from "../../workbook/browser/attacks.js";
import { createStretch } from "../../workbook/browser/stretch.js";

const read = (text) => new Float32Array(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer);

function written(samples) {
  const bytes = new Uint8Array(samples.buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(text);
}

window.attacks = (text, rate) => attacksIn([read(text)], rate);

// In pieces of unequal length, as a page takes them.
window.stretched = (text, rate, speed) => {
  const channels = [read(text)], stretch = createStretch({ channels, rate, attacks: attacksIn(channels, rate) });
  const whole = new Float32Array(Math.floor(channels[0].length / speed));
  stretch.start(0, speed);
  for (let at = 0, size = 1000; at < whole.length; at += size, size = 700 + (size * 7) % 1900) {
    const length = Math.min(size, whole.length - at);
    whole.set(stretch.take(length)[0], at);
  }
  return written(whole);
};
