// The recorded seasons, decoded, and what they look like at an hour; no drawing.
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

// ---- a season at an hour: no drawing
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
