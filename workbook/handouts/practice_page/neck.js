// The neck under the score: the places of the line, the sounding one in the shape of its function, the next one ringed.
import { boardPieces, neckFrame, placeKey, sign } from "../../browser/neck.js";
import { element } from "../../browser/svg.js";

const MARGINS = { side: 26, top: 14, below: 24 };
const BESIDE = 15, UNDER = 20, RADIUS = 10, RING = 8, SPOT = 5.5;

// `look()` says {left, names}; `signs` are the shapes of the roles.
export function createNeck({ box, signs, look }) {
  let line = null, frame = null, spots = new Map(), marked = [];

  function draw(which) {
    line = which;
    spots = new Map();
    marked = [];
    box.replaceChildren();
    if (!line.neck) return;
    frame = neckFrame(line.neck, { margins: MARGINS, left: look().left });
    const keys = new Map(line.places.map((place) => [placeKey(place[0], place[1]), place]));
    for (const [key, [string, fret]] of keys) spots.set(key, element(["g", { "data-place": key }, spot(at(string, fret))]));
    const { first, last } = line.neck;
    const svg = element(["svg", {
      viewBox: `0 0 ${frame.width} ${frame.height}`, role: "img",
      "aria-label": `Neck, ${first ? `frets ${first}` : "open strings"} to ${last}: the places of this drill`,
    }, ...boardPieces(frame, { beside: BESIDE, under: UNDER })]);
    svg.append(...spots.values());
    box.append(svg);
  }

  const at = (string, fret) => [frame.note(fret), frame.y(string)];
  const spot = ([cx, cy]) => ["circle", { cx, cy, r: SPOT, class: "spot" }];

  // `notes` sound now, `following` come next.
  function light(notes, following) {
    if (!frame || !line.neck) return;
    for (const [key, [string, fret]] of marked) put(key, "", spot(at(string, fret)));
    marked = [];
    const now = notes.map((note) => line.places[note]);
    const sounding = new Set(now.map(([string, fret]) => placeKey(string, fret)));
    for (const place of following.map((note) => line.places[note])) {
      if (!sounding.has(placeKey(place[0], place[1]))) mark(place, "next", [ring(place)]);
    }
    for (const place of now) mark(place, "lit", sounds(place));
  }

  function mark(place, state, pieces) {
    const key = placeKey(place[0], place[1]);
    put(key, state, ...pieces);
    marked.push([key, place]);
  }

  function put(key, state, ...pieces) {
    const group = spots.get(key);
    group.setAttribute("class", state);
    group.replaceChildren(...pieces.map(element));
    if (state) group.parentNode.append(group); // over its neighbours
  }

  function ring([string, fret]) {
    const [cx, cy] = at(string, fret);
    return ["circle", { cx, cy, r: RING, class: "ring" }];
  }

  function sounds([string, fret, degree, name, role]) {
    const [x, y] = at(string, fret), words = look().names || !degree ? name : degree;
    return [sign([x, y], signs[role], RADIUS, { class: `m-${role}` }),
      ["text", { x, y: y + 4, class: `label l-${role}` }, words]];
  }

  return { draw, light };
}
