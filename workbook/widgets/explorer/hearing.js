// What sounds: each thing to hear as a line for the player, from the chord's voicing, the scale and the arpeggio.
import { createBus } from "../../browser/bus.js";
import { createPlayer } from "../../browser/player.js";
import { createSound } from "../../browser/sound.js";

const PARTS = ["line", "chords", "bass", "drums", "click"];
const LOWEST = 50; // the MIDI number from which scales and arpeggios rise
const VIBRATO_HZ = 5.5, SOON = 0.015; // seconds from a press to the first sound
const EIGHTH = 0.5, BEFORE_END = 0.02, LOUD = 0.9;
const ENDED = 0.05; // beats

export function createHearing(app) {
  let sound = null, player = null, bank = null, playing = "", end = 0, frame = 0;

  // The bank is asked for once the page rests, and read before anything is pressed.
  async function fetch() {
    const about = await app.ask("bank"), samples = [], index = new Map();
    for (const [voice, rows] of Object.entries(about.places)) {
      index.set(voice, rows.map(([midi, ...place]) => { samples.push(place); return [midi, samples.length - 1]; }));
    }
    const { bytes } = about;
    bank = { about, index };
    const chokes = index.get(about.parts[2]).flatMap(([midi, sample]) => (about.chokes.includes(midi) ? [sample] : []));
    sound = createSound({ chokes, bank: bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength), samples, parts: PARTS, volume: app.state.get().volume });
    const bus = createBus();
    player = createPlayer({ sound, parts: PARTS, vibratoHz: VIBRATO_HZ, bus, soon: SOON });
    player.set({ count: 0 });
    bus.on("state", () => { if (!player.state().playing) stopped(); });
    await sound.prepare();
    app.told();
  }

  // The nearest sample of a voice, and by how many cents it is tuned.
  function sampled(voice, midi) {
    const rows = bank.index.get(voice) ?? bank.index.get(bank.about.line);
    const [at, sample] = rows.reduce((best, one) => (Math.abs(one[0] - midi) < Math.abs(best[0] - midi) ? one : best));
    return [sample, (midi - at) * 100];
  }

  function note(start, beats, midi, loud = LOUD) {
    const [sample, cents] = sampled(bank.about.line, midi);
    return [start, start + beats, sample, loud, cents ? [[0, cents]] : [], null];
  }

  function under(start, beats, part, midi, gain) {
    const voice = bank.about.parts[part - 1], [sample, cents] = sampled(voice, midi);
    return [start, start + beats, sample, gain ?? bank.about.gains[voice], part, voice === bank.about.parts[2] ? 0 : cents];
  }

  const held = (start, beats, midis, bass) => [...midis.map((midi) => under(start, beats, 1, midi)), ...(bass === null ? [] : [under(start, beats, 2, bass)])];

  const rising = (pitches, from) => {
    let midi = from - 1;
    return pitches.map((pitch) => { do midi += 1; while (midi % 12 !== pitch); return midi; });
  };
  const upAndDown = (midis) => [...midis, midis[0] + 12, ...midis.toReversed()];
  const eighths = (midis) => midis.map((midi, index) => note(index * EIGHTH, EIGHTH - BEFORE_END, midi));

  // -- what can be heard: {notes, backing, length} in beats ----------------------------------------------------------------
  const bar = () => app.chart.bar;
  const pitches = () => (app.row ? app.row.pitches : app.view.notes.flatMap((one, pitch) => (one.chord ? [pitch] : [])));
  const whole = (beats) => Math.ceil(beats / bar()) * bar();
  const things = {
    note: ({ midi }) => ({ notes: [note(0, 2, midi)], backing: [], length: bar() }),
    chord: () => ({ notes: [], backing: held(0, bar(), app.view.sound.chord, app.view.sound.bass), length: bar() }),
    scale: () => {
      const notes = eighths(upAndDown(rising(app.view.sound.scale, LOWEST))), length = whole(notes.length * EIGHTH);
      return { notes, backing: held(0, length, app.view.sound.chord, app.view.sound.bass), length };
    },
    arpeggio: () => {
      const notes = eighths(upAndDown(rising(pitches(), LOWEST))), length = whole(notes.length * EIGHTH);
      return { notes, backing: held(0, length, app.view.sound.chord, app.view.sound.bass), length };
    },
    into: () => into(),
    line: () => ofLine(),
    changes: () => throughout(),
    picks: () => ({ ...app.named.line, notes: app.named.line.sounds.map(sounded), backing: held(0, bar(), app.view.sound.chord, app.view.sound.bass), length: whole(app.named.line.length) }),
  };

  // The arpeggio for a bar, then the next chord with the note that its last one leads to.
  function into() {
    const { view } = app, run = rising(pitches(), LOWEST), count = Math.round(bar() / EIGHTH);
    const order = Array.from({ length: count }, (_, index) => run[index % run.length] + 12 * Math.floor(index / run.length));
    const leading = pitches().find((pitch) => view.notes[pitch].way), last = order.at(-1);
    const before = leading === undefined ? last : last + ((leading - last % 12 + 18) % 12) - 6;
    order[count - 1] = before;
    const goal = before + (view.notes[((before % 12) + 12) % 12].way || 0);
    return { notes: [...eighths(order), note(bar(), bar(), goal)], length: 2 * bar(),
      backing: [...held(0, bar(), view.sound.chord, view.sound.bass), ...held(bar(), bar(), view.sound.next, view.sound.nextBass)] };
  }

  const sounded = ([start, stop, , midi]) => note(start, stop - start, midi);

  function ofLine() {
    const { line } = app, notes = line.sounds.map(sounded), { view } = app;
    const isInto = app.state.get().drill === app.words.drills[0][0];
    const backing = isInto ? [...held(0, bar(), view.sound.chord, view.sound.bass), ...(view.next ? held(bar(), bar(), view.sound.next, view.sound.nextBass) : [])]
      : backed(app.bars()[0] * bar(), line.length);
    return { notes, backing, length: line.length, lights: line.sounds.map(([start, stop, , , index]) => [start, stop, index]) };
  }

  // The backing of the changes from a beat on.
  const backed = (from, length) => (app.backing ?? []).filter(([start]) => start >= from && start < from + length)
    .map(([start, stop, part, midi, gain]) => under(start - from, stop - start, part, midi, gain));

  // All the changes, and the arpeggio at hand over its chord.
  function throughout() {
    const length = app.chart.bars.length * bar(), event = app.chart.events[app.state.get().chord];
    const run = upAndDown(rising(pitches(), LOWEST)), count = Math.floor(event.beats / EIGHTH);
    const notes = Array.from({ length: count }, (_, index) => note(event.onset + index * EIGHTH, EIGHTH - BEFORE_END, run[index % run.length]));
    return { notes, backing: backed(0, length), length, isWhole: true };
  }

  // -- playing --------------------------------------------------------------------------------------------------------
  // A button that is pressed while its thing sounds stops it; what is chosen meanwhile sounds instead (`again`).
  async function hear(name, { again = false, ...about } = {}) {
    if (!player) return;
    if (playing === name && !again) { player.pause(); return; }
    if (player.state().playing) player.pause();
    if (needsBacking(name) && !app.backing) await app.fetchBacking();
    const thing = things[name](about), state = app.state.get(), tempo = app.tempo();
    const goesOn = state.loop && name !== "note";
    end = goesOn ? Infinity : thing.length;
    const line = { ...thing, bar: bar(), pulse: app.chart.pulse, tempo, length: goesOn ? thing.length : thing.length + bar() };
    sound.setVolume(state.volume);
    sound.setLevel("click", state.click && name !== "note" ? 1 : 0);
    player.load(line, { tempo, loop: null, place: 0, rise: 0, after: 1, goal: 0 });
    playing = name;
    app.paintHear();
    await player.play();
    cancelAnimationFrame(frame);
    frame = requestAnimationFrame(() => follow(thing));
  }

  const needsBacking = (name) => name === "changes" || (name === "line" && app.state.get().drill !== app.words.drills[0][0]);

  function follow(thing) {
    if (!player.state().playing) return;
    const { beat } = player.look();
    if (beat >= end - ENDED) { player.pause(); return; }
    if (thing.isWhole) app.sounds(app.chart.events.findLastIndex((event) => event.onset <= beat));
    if (thing.lights) app.light(thing.lights.filter(([start, stop]) => beat >= start && beat < stop).map(([, , index]) => index));
    frame = requestAnimationFrame(() => follow(thing));
  }

  function stopped() {
    playing = "";
    cancelAnimationFrame(frame);
    app.sounds(null);
    app.light([]);
    app.paintHear();
  }

  return {
    fetch, hear,
    open: () => sound?.open(), // at the first touch, so that the press itself need not wait
    stop: () => player?.pause(),
    playing: () => playing, isReady: () => Boolean(player),
    setVolume: (value) => sound?.setVolume(value),
    setTempo: (tempo) => { if (player?.state().playing) player.setTempo(tempo); },
    setClick: (isOn) => sound?.setLevel("click", isOn ? 1 : 0),
  };
}
