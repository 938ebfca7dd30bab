// The count sheet.
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
    markSvg(key, ((k % columns) + 0.5) * cell, (Math.floor(k / columns) + 0.5) * cell, 0.26 * cell, ringed)).join('');
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
  const start = `For each late larva of the ${NAMES[second.key]}, stem for stem, the ${NAMES[first.key]} has ${a} by the count and ${b} by where they hatched.`;
  const strays = first.elsewhere + second.elsewhere;
  if (a === b) return `${start} The two agree${strays > 0 ? `, although ${strays} of those counted hatched elsewhere` : ''}.`;
  const [offCount, offHome] = [Math.abs(Math.log(counted)), Math.abs(Math.log(natal))];
  if ((counted - 1) * (natal - 1) < 0) return `${start} The count points the other way.`;
  return `${start} The count makes the difference look ${offCount < offHome ? 'smaller' : 'larger'} than it is.`;
}
