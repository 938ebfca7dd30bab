// The picture from above.
const canvas = element('picture');
const pen = canvas.getContext('2d');
const BED_EDGE = 3; // pixels
const NAME_ROOM = 32; // pixels for what is written above and below the patches
const MARGIN = 1; // metres of grass shown around the patches
const TURN_BELOW = 560; // narrower than this the picture stands on end
const TRAIL_HOURS = 36;
const [TRAIL_STRENGTH, KEPT_STRENGTH] = [0.85, 0.45];
const STEM_STRENGTH = 0.6; // paler than larvae, also in grey
let view = null;
let colours = {};
const traced = new WeakMap();

function readColours() {
  const style = getComputedStyle(document.documentElement);
  for (const name of ['paper', 'ground', 'bed', 'line', 'ink', 'quiet', 'treated', 'untouched', 'refuge', 'cut', 'other',
    'mature', 'stubble', 'fresh', 'eaten']) colours[name] = style.getPropertyValue(`--${name}`).trim();
}

/** Fits both patches into the picture; on a narrow page they stand one above the other. */
function fit() {
  const width = canvas.parentElement.clientWidth;
  const turned = width < TURN_BELOW;
  const height = Math.round(turned ? Math.min(1.35 * width, 520) : Math.min(0.55 * width, 460));
  const density = Math.min(window.devicePixelRatio || 1, 3);
  if (canvas.width !== Math.round(width * density) || canvas.height !== Math.round(height * density)) {
    canvas.width = Math.round(width * density);
    canvas.height = Math.round(height * density);
    canvas.style.height = `${height}px`;
  }
  // Halves are looked at from nearer; the other patch may then lie outside the picture.
  const boxes = chosen.compare === 'halves' ? seasonOf(chosen).boxes.slice(0, 1) : seasonOf(chosen).boxes;
  const low = [0, 1].map((k) => Math.min(...boxes.map((box) => box[k])) - MARGIN);
  const high = [0, 1].map((k) => Math.max(...boxes.map((box) => box[k + 2])) + MARGIN);
  const room = [turned ? height : width, turned ? width : height];
  const names = turned ? [NAME_ROOM, 0] : [0, NAME_ROOM];
  const scale = Math.min(...room.map((pixels, k) => (pixels - names[k]) / (high[k] - low[k])));
  const middle = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
  // On end, the picture is turned by a quarter, not mirrored.
  const matrix = turned
    ? [0, scale, scale, 0, width / 2 - middle[1] * scale, height / 2 - middle[0] * scale]
    : [scale, 0, 0, -scale, width / 2 - middle[0] * scale, height / 2 + middle[1] * scale];
  view = { width, height, density, turned, scale, matrix, stem: clamp(scale * 0.075, 2.4, 5.5), late: clamp(scale * 0.13, 4.6, 9) };
}

const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

function place(x, y) {
  const m = view.matrix;
  return [m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5]];
}

function inPixels() {
  pen.setTransform(view.density, 0, 0, view.density, 0, 0);
}

function inMetres() {
  pen.setTransform(...view.matrix.map((part) => part * view.density));
}

function stamp(shape, x, y, radius, fill, stroke, width) {
  pen.translate(x, y);
  pen.scale(radius, radius);
  if (stroke) {
    pen.lineWidth = width / radius;
    pen.strokeStyle = stroke;
    pen.stroke(paths[shape]);
  }
  if (fill) {
    pen.fillStyle = fill;
    pen.fill(paths[shape]);
  }
  pen.scale(1 / radius, 1 / radius);
  pen.translate(-x, -y);
}

function draw() {
  const season = seasonOf(chosen);
  const state = stateAt(season, hour);
  inPixels();
  pen.lineJoin = 'round';
  pen.lineCap = 'round';
  pen.fillStyle = colours.ground;
  pen.fillRect(0, 0, view.width, view.height);
  drawBeds(season);
  drawTrails(season);
  inPixels();
  pen.globalAlpha = STEM_STRENGTH;
  season.stems.forEach((stem, k) => drawStem(stem, state.stems[k]));
  pen.globalAlpha = 1;
  const seen = new Set(season.counted.filter((sighting) => sighting.hour <= hour && dayOf(sighting.hour) === dayOf(hour))
    .map((sighting) => sighting.animal));
  // Late larvae last, so that the young never hide them.
  for (const late of [false, true]) {
    for (const animal of state.animals) if (animal.late === late) drawAnimal(season, animal, seen.has(animal.index));
  }
  drawLabels(season);
}

/** Corner and size in pixels of a box in metres, with some room around it. */
function frame([x0, y0, x1, y1], room) {
  const [a, b] = [place(x0, y0), place(x1, y1)];
  const left = Math.min(a[0], b[0]) - room;
  const top = Math.min(a[1], b[1]) - room;
  return [left, top, Math.abs(a[0] - b[0]) + 2 * room, Math.abs(a[1] - b[1]) + 2 * room];
}

function drawBeds(season) {
  for (const box of season.boxes) {
    pen.fillStyle = colours.bed;
    pen.strokeStyle = colours.line;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.roundRect(...frame(box, BED_EDGE), 8);
    pen.fill();
    pen.stroke();
  }
  const edge = halvesEdge(season);
  if (edge === null) return;
  const [, y0, , y1] = season.boxes[0];
  pen.setLineDash([4, 4]);
  pen.beginPath();
  pen.moveTo(...place(edge, y0));
  pen.lineTo(...place(edge, y1));
  pen.stroke();
  pen.setLineDash([]);
}

/** Where cut and refuge stems part, if one line along the patch parts them. */
function halvesEdge(season) {
  const xs = [0, 1].map((half) => season.stems.filter((stem) => stem.half === half).map((stem) => stem.x));
  if (xs[0].length === 0 || xs[1].length === 0) return null;
  for (const [left, right] of [xs, [...xs].reverse()]) {
    const [most, least] = [Math.max(...left), Math.min(...right)];
    if (most < least) return (most + least) / 2;
  }
  return null;
}

function drawTrails(season) {
  inMetres();
  const keep = element('keep').checked;
  for (const animal of season.animals) {
    for (let k = 1; k < animal.visits.length; k += 1) {
      const visit = animal.visits[k];
      const age = Math.max(0, hour - visit.arrived) / TRAIL_HOURS;
      const kept = keep && crosses(season, animal.visits[k - 1], visit);
      if (!visit.path || visit.left > hour || (age >= 1 && !kept)) continue;
      const key = groupOf(season, animal.natal, chosen.compare);
      pen.globalAlpha = Math.max(kept ? KEPT_STRENGTH : 0, TRAIL_STRENGTH * (1 - age));
      pen.strokeStyle = colours[key];
      pen.lineWidth = 1.6 / view.scale;
      pen.setLineDash(MARKS[key].dash.map((part) => part / view.scale));
      pen.stroke(traceOf(visit));
    }
  }
  pen.globalAlpha = 1;
  pen.setLineDash([]);
}

/** Whether a walk led from one of the compared groups to another. */
function crosses(season, from, to) {
  if (to.stem === null || to.arrived > hour) return false;
  return groupOf(season, from.stem, chosen.compare) !== groupOf(season, to.stem, chosen.compare);
}

/** The line of a walk so far; finished walks are kept, since they are drawn in every frame. */
function traceOf(visit) {
  if (visit.arrived <= hour && traced.has(visit)) return traced.get(visit);
  const trace = new Path2D();
  const { path } = visit;
  trace.moveTo(path[0], path[1]);
  for (let k = 3; k < path.length && path[k + 2] <= hour; k += 3) trace.lineTo(path[k], path[k + 1]);
  if (visit.arrived > hour) trace.lineTo(...positionAt(path, hour));
  else traced.set(visit, trace);
  return trace;
}

function drawStem(stem, condition) {
  const { key, shape } = STEMS[condition];
  const [x, y] = place(stem.x, stem.y);
  const open = shape === 'bar' || shape === 'cross';
  stamp(shape, x, y, view.stem, open ? null : colours[key], open ? colours[key] : null, 2);
}

/** Larvae on a stem sit around it, each at an angle of its own, so that they do not cover each other. */
const GOLDEN = Math.PI * (3 - Math.sqrt(5));

function drawAnimal(season, animal, counted) {
  const radius = view.late * SIZES[animal.stage];
  let [x, y] = place(animal.x, animal.y);
  if (!animal.walking) {
    const away = view.stem + 0.55 * radius;
    x += away * Math.cos(animal.index * GOLDEN);
    y += away * Math.sin(animal.index * GOLDEN);
  }
  const key = groupOf(season, animal.natal, chosen.compare);
  const { shape, hollow } = MARKS[key];
  const edge = hollow ? Math.max(1.4, 0.34 * radius) : 0;
  stamp(shape, x, y, radius, null, colours.paper, edge + (animal.late ? 4 : 2));
  stamp(shape, x, y, radius, hollow ? colours.paper : colours[key], hollow ? colours[key] : null, 2 * edge);
  if (hollow) stamp(shape, x, y, radius - edge / 2, colours.paper, null, 0);
  if (animal.late && !animal.walking && groupOf(season, animal.stem, chosen.compare) !== key) {
    stamp('ring', x, y, radius + 5, null, colours.paper, 5);
    stamp('ring', x, y, radius + 5, null, colours.ink, 2);
  }
  // A younger larva taken for a late one is ticked too: the sheet counts it.
  if (counted) drawTick(x + radius, y - radius);
}

function drawTick(x, y) {
  pen.beginPath();
  pen.moveTo(x - 1, y - 3);
  pen.lineTo(x + 3, y + 1);
  pen.lineTo(x + 10, y - 10);
  for (const [colour, width] of [[colours.paper, 6], [colours.ink, 2.5]]) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    pen.stroke();
  }
}

function write(text, x, y, colour = colours.ink, bold = false) {
  pen.font = `${bold ? '600 ' : ''}14px system-ui, sans-serif`;
  pen.textAlign = 'center';
  pen.textBaseline = 'middle';
  const half = pen.measureText(text).width / 2 + 4;
  const within = clamp(x, half, view.width - half);
  pen.lineWidth = 4;
  pen.strokeStyle = colours.ground;
  pen.strokeText(text, within, y);
  pen.fillStyle = colour;
  pen.fillText(text, within, y);
}

function drawLabels(season) {
  const frames = season.boxes.map((box) => frame(box, BED_EDGE));
  frames.forEach(([left, top, wide, tall], k) => {
    const name = capital(NAMES[GROUPS.patches[k]]);
    const middle = left + wide / 2;
    if (left > view.width || top > view.height) return;
    write(name, middle, view.turned && k === 1 ? top + tall + 13 : top - 13, colours.ink, true);
  });
  if (chosen.compare === 'patches') drawGap(season, frames);
  if (!view.turned && halvesEdge(season) !== null) drawHalfNames(season, frames[0]);
  drawScale();
}

function drawHalfNames(season, [, top, , tall]) {
  const edge = halvesEdge(season);
  const [x0, , x1] = season.boxes[0];
  const leftIsCut = season.stems.some((stem) => stem.half === 1 && stem.x < edge);
  const wide = Math.min(edge - x0, x1 - edge) * view.scale > 62;
  [[x0, edge, leftIsCut], [edge, x1, !leftIsCut]].forEach(([from, to, cut]) => {
    const word = cut ? (hour < data.cutting_hour ? 'to be cut' : 'cut') : 'refuge';
    if (wide) write(word, place((from + to) / 2, 0)[0], top + tall + 13, colours.quiet);
  });
}

/** The gap as surveyors draw a distance: a line with end strokes, and the length beside it. */
function drawGap(season, frames) {
  const text = length(data.gaps_m[chosen.gap]);
  const [a, b] = season.boxes;
  const middleY = (a[1] + a[3]) / 2;
  const ends = [place(a[2], middleY), place(b[0], middleY)];
  pen.strokeStyle = colours.ink;
  pen.lineWidth = 1.5;
  const across = view.turned ? [5, 0] : [0, 5];
  pen.beginPath();
  pen.moveTo(...ends[0]);
  pen.lineTo(...ends[1]);
  for (const [x, y] of ends) {
    pen.moveTo(x - across[0], y - across[1]);
    pen.lineTo(x + across[0], y + across[1]);
  }
  pen.stroke();
  const [x, y] = [(ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2];
  const span = Math.abs(ends[1][0] - ends[0][0]);
  if (view.turned) write(text, 0, y);
  else if (span > 110) write(text, x, y - 14);
  else write(`gap ${text}`, x, Math.max(...frames.map(([, top, , tall]) => top + tall)) + 30);
}

function drawScale() {
  const metres = view.scale > 45 ? 1 : 2;
  const wide = metres * view.scale;
  const half = Math.max(wide, pen.measureText(length(metres)).width) / 2;
  // On end, the middle of the foot belongs to the second patch's name.
  const [x, y] = [(view.turned ? view.width - 10 - half : 10 + half) - wide / 2, view.height - 10];
  pen.strokeStyle = colours.quiet;
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(x, y - 4);
  pen.lineTo(x, y);
  pen.lineTo(x + wide, y);
  pen.lineTo(x + wide, y - 4);
  pen.stroke();
  write(length(metres), x + wide / 2, y - 12, colours.quiet);
}
