// Showing a day, playing, controls.
// ---- showing a day
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

// ---- playing
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

// ---- controls
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
    `<span class="${kind}" data-at="${dayOf(when) / dayOf(data.end_hour)}">${text}</span>`).join('')
    + `<span class="counts" data-at="${(data.count_hours[0] + LAST_COUNT) / 2 / data.end_hour}">count days</span>`;
  // The page's policy lets no style stand in markup, so that no text can bring one.
  for (const mark of element('marks').children) mark.style.setProperty('--at', mark.dataset.at);
}
