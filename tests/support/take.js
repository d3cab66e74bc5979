// What the page hears of a take, for a test that compares it with the report: samples in, as base64 of 32-bit floats.
import { delayOf, hearTake } from "../../workbook/browser/heard_take.js";
import { atRate } from "../../workbook/browser/rows.js";
import { signsOf, takePicture } from "../../workbook/handouts/practice_page/take_picture.js";
import { findingsOf, measuresOf, wentWell } from "../../workbook/browser/take_words.js";

const read = (text) => new Float32Array(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer);

window.heardTake = async ({ text, rate, first, delay, notes, hearing, beats, tempo }) => {
  const begun = performance.now();
  const take = await hearTake({ samples: read(text), rate, first, delay, notes, by: hearing.by });
  const took = performance.now() - begun;
  if (!take) return null;
  const numbers = measuresOf(take, hearing.tell);
  return {
    took, extras: take.extras.length, astray: take.astray ?? null, bleeds: take.bleeds, begins: take.begins,
    notes: take.notes.map(({ note, verdict, late, heard }) => ({ index: note.index, verdict, late, heard })),
    well: wentWell(take, numbers, hearing.tell), findings: findingsOf(take, numbers, { tell: hearing.tell, beats, tempo }),
  };
};
window.takeDrawn = (take) => {
  const picture = takePicture({ take, bar: 4, worth: 30, noticed: 15 });
  const high = (sign) => Number(/^M\S+ (\S+?)L/.exec(picture.querySelector(sign).getAttribute("d"))[1]);
  return { words: picture.getAttribute("aria-label"), missing: picture.querySelectorAll(".s-missing").length, early: high(".s-early"), late: high(".s-late"), signs: signsOf(take, 30) };
};
window.delayOf = ({ text, hearing, ...rest }) => delayOf({ samples: read(text), by: hearing.by, ...rest });
window.resampled = (text, rate) => Array.from(atRate(read(text), rate, 22_050));
