'use strict';
(() => {
  // ---------------------------------------------------------------- the data
  const data = JSON.parse(document.getElementById('lesson').textContent);
  const NEVER = 65535;
  const DAY = 24;
  const EVENING = 18; // a day on the slider is shown in its evening, after cutting and counting
  const PARTS = data.hour_parts;
  const METRES = data.point_cm / 100;
  const LATE = data.late_from;
  const LAST_COUNT = data.count_hours[data.count_hours.length - 1] ?? data.end_hour;

  const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

  /** Rows of little-endian u16, whatever the machine's own order. */
  function rowsOf(text, width) {
    const bytes = bytesOf(text);
    const view = new DataView(bytes.buffer);
    const rows = [];
    for (let at = 0; at + 2 * width <= bytes.length; at += 2 * width) {
      rows.push(Array.from({ length: width }, (_, k) => view.getUint16(at + 2 * k, true)));
    }
    return rows;
  }

  /** A recorded season with lengths in metres and times in hours. */
  function decode(take) {
    const hours = (t) => (t === NEVER ? Infinity : t / PARTS);
    const stems = rowsOf(take.stems, 6).map(([x, y, half, fresh, mature, eaten]) => ({
      x: x * METRES, y: y * METRES, half, fresh: hours(fresh), mature: hours(mature), eaten: hours(eaten),
    }));
    const steps = new DataView(bytesOf(take.points).buffer);
    const rows = rowsOf(take.visits, 5);
    let point = 0;
    let previous = null;
    const visits = rows.map(([stem, left, arrived, , count]) => {
      // A walk starts on the stem of the visit before it; the natal visit has no walk.
      const path = count > 0 && previous !== null ? pathFrom(stems[previous], left, steps, point, count) : null;
      const ends = stem === NEVER ? null : stems[stem];
      // A stem is climbed from a little way off: the last recorded point is not yet the stem.
      if (path && ends) path.set([ends.x, ends.y, arrived / PARTS], path.length - 3);
      point += count;
      previous = stem === NEVER ? null : stem;
      return { stem: stem === NEVER ? null : stem, left: hours(left), arrived: hours(arrived), path };
    });
    // The stored index of a first visit has 16 bits, so it is summed up like that of the points.
    let first = 0;
    const animals = rowsOf(take.lives, 11).map((row, index) => {
      const own = visits.slice(first, first + row[10]);
      first += row[10];
      return { index, natal: row[0], starts: row.slice(1, 7).map(hours), end: hours(row[7]), fate: row[8], visits: own };
    });
    const counted = rowsOf(take.counted, 3).map(([day, animal, stem]) => ({ hour: data.count_hours[day], animal, stem }));
    const boxes = take.patch_cm.map((box) => box.map((cm) => cm / 100));
    return { stems, animals, counted, boxes };
  }

  /** x, y (metres) and hour of every point of a walk, its start included; the last point is there twice. */
  function pathFrom(start, left, steps, first, count) {
    const path = new Float64Array(3 * (count + 2));
    let x = start.x;
    let y = start.y;
    let t = left;
    path.set([x, y, t / PARTS]);
    for (let k = 0; k < count; k += 1) {
      x += steps.getInt8(3 * (first + k)) * METRES;
      y += steps.getInt8(3 * (first + k) + 1) * METRES;
      t += steps.getUint8(3 * (first + k) + 2);
      path.set([x, y, t / PARTS], 3 * (k + 1));
    }
    path.set([x, y, t / PARTS], 3 * (count + 1));
    return path;
  }

  // ------------------------------------------- a season at an hour: no drawing
  const [MATURE, STUBBLE, FRESH, EATEN] = [0, 1, 2, 3];
  const CUT_FATE = 2;

  function conditionAt(stem, hour) {
    const cut = stem.half === 1 && hour >= data.cutting_hour;
    // Cutting takes the bare stalk away, so only grazing after the cut still shows.
    if (stem.eaten <= hour && !(cut && stem.eaten < data.cutting_hour)) return EATEN;
    if (!cut) return MATURE;
    if (hour < stem.fresh) return STUBBLE;
    return hour < stem.mature ? FRESH : MATURE;
  }

  /** Where along a walk a larva is: straight between the recorded points. */
  function positionAt(path, hour) {
    let low = 0;
    let high = path.length / 3 - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (path[3 * middle + 2] <= hour) low = middle;
      else high = middle;
    }
    const span = path[3 * high + 2] - path[3 * low + 2];
    const part = span > 0 ? Math.min(1, Math.max(0, (hour - path[3 * low + 2]) / span)) : 1;
    return [0, 1].map((k) => path[3 * low + k] + part * (path[3 * high + k] - path[3 * low + k]));
  }

  /** One egg or larva at an hour, or null while it is not there. */
  function animalAt(season, animal, hour) {
    if (hour < animal.starts[0] || hour >= animal.end) return null;
    let stage = 0;
    while (stage + 1 < animal.starts.length && animal.starts[stage + 1] <= hour) stage += 1;
    let at = 0;
    while (at + 1 < animal.visits.length && animal.visits[at + 1].arrived <= hour) at += 1;
    const next = animal.visits[at + 1];
    const walking = next !== undefined && next.left <= hour;
    const stem = walking ? null : animal.visits[at].stem;
    const stood = season.stems[animal.visits[at].stem];
    const [x, y] = walking && next.path ? positionAt(next.path, hour) : [stood.x, stood.y];
    return { index: animal.index, natal: animal.natal, stage, late: stage >= LATE, walking, stem, x, y };
  }

  function stateAt(season, hour) {
    return {
      stems: season.stems.map((stem) => conditionAt(stem, hour)),
      animals: season.animals.map((animal) => animalAt(season, animal, hour)).filter((animal) => animal !== null),
    };
  }

  /** The groups compared, the one whose ratio is asked for first. */
  const GROUPS = { patches: ['treated', 'untouched'], halves: ['cut', 'refuge'] };

  function groupOf(season, stem, compare) {
    const half = season.stems[stem].half;
    if (compare === 'patches') return half === 2 ? 'untouched' : 'treated';
    return ['refuge', 'cut', 'other'][half];
  }

  /** What a volunteer has counted up to an hour, against where those larvae hatched. */
  function countSeason(season, hour, compare) {
    const sightings = season.counted.filter((sighting) => sighting.hour <= hour).map((sighting) => ({
      stands: groupOf(season, sighting.stem, compare),
      hatched: groupOf(season, season.animals[sighting.animal].natal, compare),
    }));
    const late = stateAt(season, hour).animals.filter((animal) => animal.late && !animal.walking);
    const groups = GROUPS[compare].map((key) => {
      const counted = sightings.filter((sighting) => sighting.stands === key);
      const here = counted.filter((sighting) => sighting.hatched === key).length;
      const today = late.filter((animal) => groupOf(season, animal.stem, compare) === key);
      return {
        key,
        stems: season.stems.filter((_, stem) => groupOf(season, stem, compare) === key).length,
        counted: counted.length,
        here,
        elsewhere: counted.length - here,
        natal: sightings.filter((sighting) => sighting.hatched === key).length,
        today: today.length,
        todayElsewhere: today.filter((animal) => groupOf(season, animal.natal, compare) !== key).length,
        from: counted.map((sighting) => sighting.hatched),
        to: sightings.filter((sighting) => sighting.hatched === key).map((sighting) => sighting.stands),
      };
    });
    const destroyed = season.animals.filter((animal) => animal.fate === CUT_FATE && animal.end <= hour).length;
    return { groups, destroyed, ratio: { counted: perStem(groups, 'counted'), natal: perStem(groups, 'natal') } };
  }

  /** First group over second, per stem; null while either has nothing to divide. */
  function perStem([first, second], what) {
    if (first.stems === 0 || second.stems === 0 || second[what] === 0) return null;
    return (first[what] / first.stems) / (second[what] / second.stems);
  }

  // ------------------------------------------------------------------- words
  const YARD = 0.9144;
  const number = (value, digits) => String(Number(value.toFixed(digits)));
  const GLUE = '\u00a0'; // keeps a number and its unit on one line
  const length = (metres) => `${number(metres, 1)}${GLUE}m (${number(metres / YARD, 1)}${GLUE}yd)`;
  const plural = (count, one, many) => `${count === 0 ? 'no' : count} ${count === 1 ? one : many}`;
  const larvae = (count) => plural(count, 'late larva', 'late larvae');
  const percent = (part, whole) => `${Math.round((100 * part) / whole)}${GLUE}%`;
  const capital = (text) => text[0].toUpperCase() + text.slice(1);
  const SHARES = new Map([[0, 'nothing'], [0.25, 'a quarter'], [0.5, 'half'], [0.75, 'three quarters'], [1, 'all']]);
  const shareWords = (share) => SHARES.get(share) ?? `${number(100 * share, 0)} %`;
  const NAMES = {
    treated: 'treated patch', untouched: 'untouched patch', refuge: 'refuge half', cut: 'cut half', other: 'untouched patch',
  };
  const STAGE_WORDS = data.stages.map((stage, k) => (k === 0 ? stage : k >= LATE ? `late larva (${stage})` : `larva ${stage}`));

  function dateOf(hour) {
    const date = new Date(Date.parse(`${data.first_day}T00:00:00Z`) + hour * 3600e3);
    return date.toLocaleDateString('en-GB', { day: 'numeric', month: 'long', timeZone: 'UTC' });
  }

  function sinceCutting(hour) {
    const days = dayOf(hour) - dayOf(data.cutting_hour);
    if (days === 0) return 'day of the cut';
    return days < 0 ? `${plural(-days, 'day', 'days')} before the cut` : `${plural(days, 'day', 'days')} after the cut`;
  }

  const dayOf = (hour) => Math.floor(hour / DAY);
  const isCountDay = (hour) => data.count_hours.some((count) => dayOf(count) === dayOf(hour));

  // ------------------------------------------------------ what is chosen now
  const chosen = { gap: 0, share: 0, side: 0, season: 0, compare: 'patches' };
  let hour = 0;
  let playing = false;

  /** The take of these choices; with nothing left or nothing cut only one side was recorded. */
  function takeOf({ gap, share, side, season }) {
    const fits = data.takes.filter((take) => take.gap === gap && take.share === share && take.season === season);
    return fits.find((take) => take.side === side) ?? fits[0] ?? data.takes[0];
  }

  const decoded = new Map();
  function seasonOf(choices) {
    const take = takeOf(choices);
    if (!decoded.has(take)) decoded.set(take, decode(take));
    return decoded.get(take);
  }

  const element = (id) => document.getElementById(id);
  const lessMotion = matchMedia('(prefers-reduced-motion: reduce)');

  // ------------------------------------------------------------------- marks
  // Outlines in a box from -1 to 1, shared by the picture, the sheet and the legend.
  const CIRCLE = 'M1 0A1 1 0 1 1 -1 0A1 1 0 1 1 1 0Z';
  const OUTLINES = {
    disc: CIRCLE,
    ring: CIRCLE,
    square: 'M-.82 -.82H.82V.82H-.82Z',
    diamond: 'M0 -1.2L1.2 0L0 1.2L-1.2 0Z',
    triangle: 'M0 -1.15L1.1 .85H-1.1Z',
    bar: 'M-1 0H1',
    cross: 'M-.8 -.8L.8 .8M-.8 .8L.8 -.8',
  };
  const paths = Object.fromEntries(Object.entries(OUTLINES).map(([shape, d]) => [shape, new Path2D(d)]));
  const MARKS = {
    treated: { shape: 'disc', hollow: false, dash: [] },
    untouched: { shape: 'square', hollow: true, dash: [7, 4] },
    refuge: { shape: 'diamond', hollow: false, dash: [] },
    cut: { shape: 'triangle', hollow: false, dash: [8, 3, 2, 3] },
    other: { shape: 'ring', hollow: true, dash: [2, 3] },
  };
  const STEMS = [
    { key: 'mature', shape: 'disc', name: 'in full leaf' },
    { key: 'stubble', shape: 'bar', name: 'cut down' },
    { key: 'fresh', shape: 'triangle', name: 'grown again, fresh' },
    { key: 'eaten', shape: 'cross', name: 'eaten bare' },
  ];
  /** Size of a mark from the egg to the last larva, as a share of the largest. */
  const SIZES = data.stages.map((_, stage) => (stage >= LATE ? 1 : 0.34 + (0.36 * stage) / LATE));

  /** An SVG mark of a natal group; `ringed` for a stray. */
  function markSvg(key, x, y, radius, ringed = false) {
    const { shape, hollow } = MARKS[key];
    const body = hollow ? `fill="var(--paper)" stroke="var(--${key})" stroke-width=".55"` : `fill="var(--${key})"`;
    const ring = ringed ? `<circle r="1.75" fill="none" stroke="var(--ink)" stroke-width=".28"/>` : '';
    return `<g transform="translate(${x} ${y}) scale(${radius})"><path d="${OUTLINES[shape]}" ${body}/>${ring}</g>`;
  }

  const small = (inside) => `<svg class="mark" viewBox="-14 -14 28 28" aria-hidden="true" focusable="false">${inside}</svg>`;

  // ----------------------------------------------------------------- drawing
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

  // ------------------------------------------------------------ the count sheet
  const TALLY_WIDTH = 320;
  const ROWS = 2;

  function buildSheet() {
    ['first', 'second'].forEach((place, k) => {
      element(place).innerHTML = `
        <h3><span class="swatch"></span> <span class="name"></span></h3>
        <p><b id="${place}-counted"></b> counted here</p>
        <svg id="${place}-counted-marks" class="tally" role="img"></svg>
        <p class="split">of these <span id="${place}-here"></span> hatched here, <strong><span id="${place}-elsewhere"></span> hatched elsewhere</strong></p>
        <p><b id="${place}-natal"></b> hatched here, wherever they were counted</p>
        <svg id="${place}-natal-marks" class="tally" role="img"></svg>
        <p class="today">Standing here now: <span id="${place}-today"></span><span id="${place}-today-elsewhere"></span></p>`;
      element(place).dataset.place = String(k);
    });
  }

  function put(id, value, text = String(value)) {
    const target = element(id);
    if (target.dataset.value !== String(value)) target.dataset.value = String(value);
    if (target.textContent !== text) target.textContent = text;
  }

  /** Rows of marks, one a larva; sized for the end of the season, so that the sheet does not jump while it fills. */
  function tally(svg, keys, home, most, label) {
    const text = `${label}|${home}|${most}`;
    if (svg.dataset.shown === text) return;
    svg.dataset.shown = text;
    const columns = Math.max(12, Math.ceil(most / ROWS));
    const cell = Math.min(24, TALLY_WIDTH / columns);
    const rows = Math.max(1, Math.ceil(most / columns));
    svg.setAttribute('viewBox', `0 0 ${TALLY_WIDTH} ${rows * cell}`);
    svg.setAttribute('aria-label', label);
    const sorted = [...keys].sort((a, b) => Number(a.ringed) - Number(b.ringed));
    svg.innerHTML = sorted.map(({ key, ringed }, k) =>
      markSvg(key, ((k % columns) + 0.5) * cell, (Math.floor(k / columns) + 0.5) * cell, 0.27 * cell, ringed)).join('');
  }

  function showSheet() {
    const season = seasonOf(chosen);
    const { groups, ratio, destroyed } = countSeason(season, hour, chosen.compare);
    const atEnd = countSeason(season, data.end_hour, chosen.compare).groups;
    const most = Math.max(...atEnd.flatMap((group) => [group.counted, group.natal]));
    const done = data.count_hours.filter((count) => count <= hour).length;
    element('sheet-when').textContent = `Late larvae, ${done} of ${data.count_hours.length} count days done. A larva met on two days is counted twice.`;
    groups.forEach((group, k) => {
      const place = ['first', 'second'][k];
      const box = element(place);
      if (box.dataset.group !== group.key) {
        box.dataset.group = group.key;
        box.querySelector('.swatch').innerHTML = small(markSvg(group.key, 0, 0, 8));
      }
      box.querySelector('.name').textContent = `${capital(NAMES[group.key])}, ${plural(group.stems, 'stem', 'stems')}`;
      for (const what of ['counted', 'here', 'elsewhere', 'natal']) put(`${place}-${what}`, group[what]);
      put(`${place}-today`, group.today, larvae(group.today));
      put(`${place}-today-elsewhere`, group.todayElsewhere, group.today === 0 ? '' : `, ${group.todayElsewhere || 'none'} of them hatched elsewhere`);
      tally(element(`${place}-counted-marks`), group.from.map((key) => ({ key, ringed: key !== group.key })), group.key, most,
        `${plural(group.counted, 'mark', 'marks')} for larvae counted on the ${NAMES[group.key]}; ${group.elsewhere} ringed, hatched elsewhere`);
      tally(element(`${place}-natal-marks`), group.to.map((key) => ({ key: group.key, ringed: key !== group.key })), group.key, most,
        `${plural(group.natal, 'mark', 'marks')} for larvae hatched on the ${NAMES[group.key]}; ${group.natal - group.here} ringed, counted elsewhere`);
    });
    const line = element('ratio');
    line.dataset.counted = ratio.counted ?? '';
    line.dataset.natal = ratio.natal ?? '';
    line.textContent = ratioWords(groups, ratio);
    put('destroyed', destroyed, hour < data.cutting_hour ? '' : `The cut destroyed ${plural(destroyed, 'egg or larva', 'eggs and larvae')} on its stems.`);
  }

  function ratioWords([first, second], { counted, natal }) {
    const empty = [first, second].find((group) => group.stems === 0);
    if (empty) return `There is no ${NAMES[empty.key]} here to compare with.`;
    if (!counted || !natal) return 'Too little is counted yet to compare the two stem by stem.';
    const [a, b] = [number(counted, 2), number(natal, 2)];
    const start = `Stem for stem, the ${NAMES[first.key]} has ${a} times the late larvae of the ${NAMES[second.key]} by the count, and ${b} times by where they hatched.`;
    if (a === b) return `${start} Here the two agree.`;
    const [offCount, offHome] = [Math.abs(Math.log(counted)), Math.abs(Math.log(natal))];
    if ((counted - 1) * (natal - 1) < 0) return `${start} The count points the other way.`;
    return `${start} The count makes the difference look ${offCount < offHome ? 'smaller' : 'larger'} than it is.`;
  }

  // ------------------------------------------------------------ showing a day
  function inWords() {
    const season = seasonOf(chosen);
    const state = stateAt(season, hour);
    const sentences = GROUPS.patches.map((key) => {
      const stems = state.stems.filter((_, k) => groupOf(season, k, 'patches') === key);
      const parts = STEMS.map(({ name }, k) => [stems.filter((condition) => condition === k).length, name])
        .filter(([count]) => count > 0).map(([count, name]) => `${count} ${name}`);
      const on = state.animals.filter((animal) => !animal.walking && groupOf(season, animal.stem, 'patches') === key);
      const eggs = on.filter((animal) => animal.stage === 0).length;
      const late = on.filter((animal) => animal.late);
      const strays = late.filter((animal) => groupOf(season, animal.natal, 'patches') !== key).length;
      return `${capital(NAMES[key])}: ${plural(stems.length, 'stem', 'stems')}, ${parts.join(', ')}; on them ${plural(eggs, 'egg', 'eggs')}, `
        + `${plural(on.length - eggs - late.length, 'young larva', 'young larvae')} and ${larvae(late.length)}${late.length > 0 ? `, of which ${strays || 'none'} hatched on the other patch` : ''}.`;
    });
    const walking = state.animals.filter((animal) => animal.walking).length;
    return `The picture in words, ${dateOf(hour)}: two patches ${length(data.gaps_m[chosen.gap])} apart${chosen.compare === 'halves' ? ', the treated one seen from near' : ''}. ${sentences.join(' ')} `
      + `${capital(plural(walking, 'larva is', 'larvae are'))} walking between stems.`;
  }

  let shownPage = '';

  /** What changes in every frame. */
  function show() {
    draw();
    const slider = element('day');
    const day = String(dayOf(hour));
    if (slider.value !== day) slider.value = day;
    const since = `${sinceCutting(hour)}${isCountDay(hour) ? ', count day' : ''}`;
    // The sheet changes with the day, and at noon when there is a cut or a count.
    const page = [day, ...[data.cutting_hour, ...data.count_hours].map((when) => when <= hour)].join();
    if (page !== shownPage) {
      shownPage = page;
      element('date').textContent = dateOf(hour);
      element('since').textContent = since;
      slider.setAttribute('aria-valuetext', `${dateOf(hour)}, ${since}`);
      showSheet();
    }
    if (hour >= LAST_COUNT) revealAnswer();
  }

  /** What changes when the picture rests: the description is not rewritten while it moves. */
  function rest() {
    show();
    showSheet();
    element('in-words').textContent = inWords();
  }

  const speak = (text) => { element('spoken').textContent = text; };

  function speakCount() {
    const { groups } = countSeason(seasonOf(chosen), hour, chosen.compare);
    speak(`${dateOf(hour)}, ${sinceCutting(hour)}. ${groups.map((group) =>
      `${capital(NAMES[group.key])}: ${group.counted} counted, ${group.elsewhere} of them hatched elsewhere`).join('. ')}.`);
  }

  // ----------------------------------------------------------------- playing
  const SPEEDS = [0.25, 1, 3, 7]; // days a second
  const HOLD = 700; // milliseconds a count day stands still, long enough to see the ticks
  const LONGEST_FRAME = 100; // after a stall the season goes on, it does not leap
  const STEADY_STEP = 250; // shortest time a day stands under reduced motion
  let speed = 2;
  let stopAt = data.end_hour;
  let heldUntil = 0;
  let before = 0;
  let timer = 0;

  function play(until = data.end_hour) {
    if (hour >= data.end_hour) hour = 0;
    stopAt = until > hour ? until : data.end_hour;
    playing = true;
    before = performance.now();
    heldUntil = 0;
    element('play').textContent = 'Pause';
    speak('Playing');
    queue();
  }

  function pause(quietly = false) {
    if (!playing) return;
    playing = false;
    cancelAnimationFrame(timer);
    clearTimeout(timer);
    element('play').textContent = 'Play';
    rest();
    if (!quietly) speakCount();
  }

  function queue() {
    if (lessMotion.matches) timer = setTimeout(() => step(eveningOf(dayOf(hour) + 1) - hour), Math.max(STEADY_STEP, 1000 / SPEEDS[speed]));
    else timer = requestAnimationFrame(tick);
  }

  function tick(now) {
    const passed = clamp(now - before, 0, LONGEST_FRAME);
    before = now;
    if (now < heldUntil) queue();
    else step((passed / 1000) * SPEEDS[speed] * DAY);
  }

  /** Goes on by some hours, but never past a count day without a stop. */
  function step(hours) {
    if (!playing) return;
    const from = hour;
    hour = Math.min(from + hours, stopAt);
    const count = data.count_hours.find((when) => from < when && when <= hour);
    if (count !== undefined && !lessMotion.matches) {
      hour = count;
      heldUntil = performance.now() + HOLD;
    }
    show();
    if (hour >= stopAt) pause();
    else queue();
  }

  const eveningOf = (day) => day * DAY + EVENING;

  function goTo(to) {
    pause(true);
    hour = clamp(to, 0, data.end_hour);
    rest();
  }

  // ---------------------------------------------------------------- controls
  function option(select, index, text) {
    const made = new Option(text, String(index));
    select.add(made);
  }

  const CHOICES = {
    gap: data.gaps_m.map(length),
    share: data.refuge_shares.map(shareWords),
    side: data.cut_sides.map((side) => (side === 'away' ? 'away from' : side)),
    season: Array.from({ length: data.seasons }, (_, k) => `season ${k + 1} of ${data.seasons}`),
  };

  /** Puts the choices into the controls; the day stays as it is. */
  function choose(changes, spoken = false) {
    Object.assign(chosen, changes);
    for (const name of Object.keys(CHOICES)) element(name).value = String(chosen[name]);
    element('side').disabled = data.takes.filter((take) => take.gap === chosen.gap && take.share === chosen.share && take.season === chosen.season).length < 2;
    element(`compare-${chosen.compare}`).checked = true;
    showLegend();
    fit();
    if (playing) {
      show();
      showSheet();
    } else rest();
    if (spoken) speakCount();
  }

  function showLegend() {
    const natal = chosen.compare === 'patches' ? GROUPS.patches : [...GROUPS.halves, 'other'];
    const items = natal.map((key) => `<li>${small(markSvg(key, 0, 0, 7))} hatched on the ${NAMES[key]}</li>`);
    const sizes = SIZES.map((size, stage) => markSvg(natal[0], 10 + 20 * stage, 0, 7 * size)).join('');
    items.push(`<li><svg class="mark long" viewBox="0 -14 ${20 * SIZES.length} 28" aria-hidden="true" focusable="false">${sizes}</svg> size: ${STAGE_WORDS[0]} to ${STAGE_WORDS[STAGE_WORDS.length - 1]}</li>`);
    const where = chosen.compare === 'patches' ? 'patch' : 'half';
    items.push(`<li>${small(markSvg(natal[0], 0, 0, 7, true))} ring: a stray, a late larva not on its natal ${where}</li>`);
    items.push(`<li>${small('<path d="M-8 0L-2 6L9 -8" fill="none" stroke="var(--ink)" stroke-width="3"/>')} counted as late today</li>`);
    items.push(`<li>${small(`<path d="M-12 6Q-4 -14 2 2T12 -4" fill="none" stroke="var(--${natal[0]})" stroke-width="2.2"/>`)} trail of the last day and a half</li>`);
    for (const { key, shape, name } of STEMS) {
      const open = shape === 'bar' || shape === 'cross';
      const body = open ? `fill="none" stroke="var(--${key})" stroke-width=".5"` : `fill="var(--${key})"`;
      items.push(`<li>${small(`<path transform="scale(6)" d="${OUTLINES[shape]}" ${body}/>`)} stem ${name}</li>`);
    }
    element('legend').innerHTML = items.join('');
  }

  function cycle(name, back) {
    const count = CHOICES[name].length;
    choose({ [name]: (chosen[name] + (back ? count - 1 : 1)) % count }, true);
  }

  function changeSpeed(by) {
    speed = clamp(speed + by, 0, SPEEDS.length - 1);
    element('speed').value = String(speed);
  }

  const toggle = () => (playing ? pause() : play());

  function stepDays(days) {
    goTo(eveningOf(dayOf(hour) + days));
    speakCount();
  }

  function toNextCount() {
    goTo(data.count_hours.find((count) => count > hour) ?? data.end_hour);
    speakCount();
  }

  /** Keys work while the picture has the focus, so that none is taken from a control or a screen reader. */
  function onKey(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const back = event.shiftKey;
    const acts = {
      ' ': toggle,
      ArrowLeft: () => stepDays(-1), ArrowRight: () => stepDays(1),
      PageUp: () => stepDays(-7), PageDown: () => stepDays(7),
      Home: () => stepDays(-Infinity), End: () => stepDays(Infinity),
      g: () => cycle('gap', back), r: () => cycle('share', back), n: () => cycle('season', back),
      s: () => { if (!element('side').disabled) cycle('side', back); },
      c: () => choose({ compare: chosen.compare === 'patches' ? 'halves' : 'patches' }, true),
      t: () => element('keep').click(),
      '+': () => changeSpeed(1), '=': () => changeSpeed(1), '-': () => changeSpeed(-1),
    };
    const act = acts[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    act();
  }

  function wire() {
    for (const [name, texts] of Object.entries(CHOICES)) {
      texts.forEach((text, k) => option(element(name), k, text));
      element(name).addEventListener('change', () => choose({ [name]: Number(element(name).value) }, true));
    }
    SPEEDS.forEach((days, k) => option(element('speed'), k, days < 1 ? `${number(days * DAY, 0)} hours a second` : `${plural(days, 'day', 'days')} a second`));
    element('speed').value = String(speed);
    element('speed').addEventListener('change', () => changeSpeed(Number(element('speed').value) - speed));
    for (const compare of Object.keys(GROUPS)) element(`compare-${compare}`).addEventListener('change', () => choose({ compare }, true));
    element('play').addEventListener('click', toggle);
    element('next-count').addEventListener('click', toNextCount);
    element('keep').addEventListener('change', show);
    element('day').max = String(dayOf(data.end_hour));
    element('day').addEventListener('input', () => goTo(eveningOf(Number(element('day').value))));
    element('stage').addEventListener('keydown', onKey);
    element('ground').addEventListener('submit', (event) => event.preventDefault());
    const marks = [[data.cutting_hour, 'cut', 'cut'], ...data.count_hours.map((count) => [count, 'count', ''])];
    element('marks').innerHTML = marks.map(([when, kind, text]) =>
      `<span class="${kind}" style="--at:${dayOf(when) / dayOf(data.end_hour)}">${text}</span>`).join('')
      + `<span class="counts" style="--at:${(data.count_hours[0] + LAST_COUNT) / 2 / data.end_hour}">count days</span>`;
  }

  // ------------------------------------------------------------- four questions
  const FEW = 0.05; // the tolerance that planning uses: one in twenty
  const MANY = 0.2;
  const BANDS = [`Next to none: fewer than ${FEW * 100} in 100`, `Some: ${FEW * 100} to ${MANY * 100} in 100`, `Many: more than ${MANY * 100} in 100`];
  const ALIKE = 0.1; // counts within a tenth are called about as many
  const HALF = nearest(data.refuge_shares, 0.5);
  const NONE = nearest(data.refuge_shares, 0);
  const [NEAR, FAR] = [nearest(data.gaps_m, 0), nearest(data.gaps_m, Infinity)];

  function nearest(values, aim) {
    const off = values.map((value) => (aim === Infinity ? -value : Math.abs(value - aim)));
    return off.indexOf(Math.min(...off));
  }

  /** The season with the most late larvae to count, so that there is something to see; chosen by number, not by outcome. */
  function fullestSeason() {
    const counts = CHOICES.season.map((_, season) => seasonOf({ gap: FAR, share: HALF, side: 0, season }).counted.length);
    return counts.indexOf(Math.max(...counts));
  }

  const FULLEST = 'The questions play the season with the most late larvae to count; choose another in the sentence above the picture.';
  const finalCount = (choices) => countSeason(seasonOf(choices), LAST_COUNT, choices.compare);
  const everySeason = (choices) => CHOICES.season.map((_, season) => ({ ...choices, season }));

  function astray(choices) {
    const { groups } = finalCount(choices);
    const sum = (what) => groups.reduce((total, group) => total + group[what], 0);
    return { groups, counted: sum('counted'), elsewhere: sum('elsewhere') };
  }

  const bandOf = ({ counted, elsewhere }) => {
    if (counted === 0) return null;
    const share = elsewhere / counted;
    return share < FEW ? 0 : share <= MANY ? 1 : 2;
  };
  const outOf = ({ counted, elsewhere }) => `${elsewhere} of ${counted}`;

  function strayAnswer(choices, place) {
    const found = astray(choices);
    const others = everySeason(choices).map(astray);
    const sum = (what) => others.reduce((total, one) => total + one[what], 0);
    const together = { counted: sum('counted'), elsewhere: sum('elsewhere') };
    const all = `In the ${others.length} seasons that the picture can play with this layout: ${others.map(outOf).join(', ')}; together ${outOf(together)}`
      + `${together.counted > 0 ? ` (${percent(together.elsewhere, together.counted)})` : ''}.`;
    const band = bandOf(found);
    if (band === null) return { band, lines: [`In this season no late larva was counted. That happens on small patches: try another season. ${all}`] };
    const parts = found.groups.map((group) => `on the ${NAMES[group.key]} ${outOf(group)}`).join(', ');
    const verdict = [
      'So in this season the count can stand for where they hatched.',
      'So in this season the count is a little off.',
      'So in this season the count says as much about where larvae walked to as about where they hatched.',
    ][band];
    return { band, lines: [
      `Of ${larvae(found.counted)} counted, ${found.elsewhere > 0 ? `${found.elsewhere} (${percent(found.elsewhere, found.counted)})` : 'none'} `
        + `hatched on another ${place} than the one counted on: ${parts}.`,
      verdict, all, FULLEST] };
  }

  function refugeAnswer(choices) {
    const halfChoices = { ...choices, share: HALF };
    const onTreated = (what) => finalCount(what).groups[0].counted;
    const [none, half] = [onTreated(choices), onTreated(halfChoices)];
    const pairs = everySeason(choices).map((one) => `${onTreated(one)} against ${onTreated({ ...one, share: HALF })}`);
    const lost = [choices, halfChoices].map((one) => countSeason(seasonOf(one), data.end_hour, 'patches').destroyed);
    const ratio = half > 0 ? none / half : none > 0 ? Infinity : 1;
    const band = ratio < 1 - ALIKE ? 0 : ratio <= 1 + ALIKE ? 1 : 2;
    return { band, lines: [
      `Without a refuge, a volunteer counts ${larvae(none)} on the treated patch; with ${shareWords(data.refuge_shares[HALF])} of it left, ${half}. `
        + `In the ${pairs.length} seasons that the picture can play: ${pairs.join(', ')}.`,
      `The cut itself destroyed ${plural(lost[0], 'egg or larva', 'eggs and larvae')} without a refuge, and ${lost[1]} with one.`
        + `${lost[0] > lost[1] ? ' What was lost that day does not show in the late counts.' : ''}`] };
  }

  const pair = { share: HALF, side: 0, compare: 'patches' };
  const SCENES = [
    {
      name: 'Close together', set: { ...pair, gap: NEAR }, choices: BANDS,
      heading: () => `Two patches ${length(data.gaps_m[NEAR])} apart`,
      question: 'You count the late larvae on both patches. How many of those you count hatched on the other patch?',
      answer: (choices) => strayAnswer(choices, 'patch'),
      field: 'Do not compare the late larvae of two patches this close as if they were two places. Choose patches farther apart, or compare eggs and young larvae, which hardly walk.',
    },
    {
      name: 'Far apart', set: { ...pair, gap: FAR }, choices: BANDS,
      heading: () => `The same patches, ${length(data.gaps_m[FAR])} apart`,
      question: 'The same season, the same stems, a wider gap. How many of the late larvae you count hatched on the other patch?',
      answer: (choices) => {
        const answer = strayAnswer(choices, 'patch');
        answer.lines.push(`At ${length(data.gaps_m[NEAR])} it was ${outOf(astray({ ...choices, gap: NEAR }))} in this season.`);
        return answer;
      },
      field: 'Pace out the gap from edge to edge before anything is cut, and write it down. The chart of many seasons below says how wide is wide enough.',
    },
    {
      name: 'Two halves', set: { ...pair, gap: FAR, compare: 'halves' }, choices: BANDS,
      heading: () => 'Cut half and refuge half of one patch',
      question: 'Now look within the treated patch. Its two halves touch. How many of the late larvae you count there did not hatch in the half they stand in?',
      answer: (choices) => strayAnswer(choices, 'half'),
      field: 'Count the two halves on separate lines and compare them by eggs and young larvae; for late larvae, compare whole patches.',
    },
    {
      name: 'No refuge', set: { ...pair, gap: FAR, share: NONE },
      choices: ['Fewer', `About as many, within ${ALIKE * 100} in 100`, 'More'],
      heading: () => 'Every stem of the treated patch is cut',
      question: `Compared with leaving ${shareWords(data.refuge_shares[HALF])} of it as a refuge: will you count fewer or more late larvae on the treated patch?`,
      answer: refugeAnswer,
      field: 'Leave part of the stems standing, and look over what you mean to cut: eggs and larvae on a cut stem can be lost that day.',
    },
  ];
  let scene = 0;
  let answered = true;

  const sceneChoices = () => ({ season: fullestSeason(), ...SCENES[scene].set });

  function openScene(index) {
    pause(true);
    scene = index;
    answered = false;
    const { heading, question, choices } = SCENES[scene];
    [...element('scenes').querySelectorAll('button')].forEach((button, k) => {
      if (k === scene) button.setAttribute('aria-current', 'step');
      else button.removeAttribute('aria-current');
    });
    element('question-heading').textContent = heading();
    element('question-text').textContent = question;
    element('expectations').innerHTML = choices.map((text, k) =>
      `<label><input type="radio" name="expected" value="${k}"> <span>${text}</span></label>`).join('');
    element('answer').hidden = true;
    element('to-answer').hidden = true;
    hour = eveningOf(Math.max(0, dayOf(data.cutting_hour) - 2));
    choose(sceneChoices());
  }

  /** Shows the answer for the scene's own layout, whatever is in the picture by now. */
  function revealAnswer() {
    if (answered) return;
    answered = true;
    const { choices, answer, field } = SCENES[scene];
    const { band, lines } = answer(sceneChoices());
    const picked = element('expect').elements.expected.value;
    const text = [...lines];
    if (picked !== '' && band !== null) {
      text.push(Number(picked) === band ? 'That is what you expected.' : `You expected “${choices[picked]}”; it came out as “${choices[band]}”.`);
    }
    element('answer-text').replaceChildren(...text.map((line) => Object.assign(document.createElement('p'), { textContent: line })));
    element('field-text').textContent = field;
    element('scene-next').textContent = scene + 1 < SCENES.length ? `Next: ${SCENES[scene + 1].name}` : 'Back to the first question';
    element('answer').hidden = false;
    element('answer').dataset.scene = String(scene);
    element('to-answer').hidden = false;
  }

  function bringIntoView(target) {
    const box = target.getBoundingClientRect();
    if (box.top >= 0 && box.bottom <= innerHeight) return;
    target.scrollIntoView({ behavior: lessMotion.matches ? 'auto' : 'smooth', block: box.height < innerHeight ? 'nearest' : 'start' });
  }

  function wireScenes() {
    SCENES.forEach(({ name }, k) => {
      const item = document.createElement('li');
      const button = Object.assign(document.createElement('button'), { type: 'button', textContent: name });
      button.addEventListener('click', () => openScene(k));
      item.append(button);
      element('scenes').append(item);
    });
    element('expect').addEventListener('submit', (event) => {
      event.preventDefault();
      answered = false;
      element('answer').hidden = true;
      element('to-answer').hidden = true;
      choose(sceneChoices());
      if (hour >= LAST_COUNT) hour = eveningOf(Math.max(0, dayOf(data.cutting_hour) - 2));
      play(LAST_COUNT);
      bringIntoView(element('stage'));
    });
    element('scene-skip').addEventListener('click', () => {
      choose(sceneChoices());
      goTo(LAST_COUNT);
      bringIntoView(element('answer'));
    });
    element('scene-next').addEventListener('click', () => {
      openScene((scene + 1) % SCENES.length);
      element('question-heading').focus();
      bringIntoView(element('question-heading').parentElement);
    });
  }

  // ------------------------------------------------------------------- start
  /** A chart that scrolls in its frame must be reachable by key. */
  function chartsByKey() {
    for (const figure of document.querySelectorAll('.charts figure')) {
      if (figure.scrollWidth > figure.clientWidth) figure.tabIndex = 0;
      else figure.removeAttribute('tabindex');
    }
  }

  /** For tests: what is shown, read-only. */
  window.lesson = Object.freeze({
    get take() {
      const take = takeOf(chosen);
      return Object.freeze({
        gap: take.gap, share: take.share, side: take.side, season: take.season, compare: chosen.compare,
        gap_m: data.gaps_m[take.gap], refuge_share: data.refuge_shares[take.share], cut_side: data.cut_sides[take.side],
      });
    },
    get hour() { return hour; },
    get playing() { return playing; },
    countsAt: (when) => countSeason(seasonOf(chosen), when, chosen.compare),
    stateAt: (when) => stateAt(seasonOf(chosen), when),
  });

  element('spread').hidden = false;
  element('about').textContent = `${data.purpose} Here: ${data.species}, on ${data.plant}, in two patches of ${data.patches[0].stems} and ${data.patches[1].stems} stems. The seasons are simulated.`;
  readColours();
  buildSheet();
  wire();
  wireScenes();
  openScene(0);
  chartsByKey();
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { readColours(); draw(); });
  addEventListener('resize', () => { fit(); draw(); chartsByKey(); });
})();
