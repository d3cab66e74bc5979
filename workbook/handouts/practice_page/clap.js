// How late a device records: the page clicks, the student claps along, and the difference is what the device takes.
import { delayOf } from "../../browser/heard_take.js";

const CLICKS = 12, BEAT = 0.75, SOON = 0.6, AFTER = 0.6; // how many, seconds apart, seconds before and after

// The delay in ms, or null where the claps were few or uneven.
export async function clapped({ sound, capture, by, part }) {
  const begins = sound.time() + SOON;
  capture.begin();
  for (let click = 0; click < CLICKS; click += 1) sound.click(begins + click * BEAT, "strong", part);
  await new Promise((done) => { setTimeout(done, 1000 * (SOON + CLICKS * BEAT + AFTER)); });
  const taken = await capture.end(begins);
  const delay = taken && delayOf({ ...taken, beat: BEAT, by });
  return delay === null ? null : Math.round(1000 * delay);
}
