// Four questions.
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

function strayAnswer(choices, word) {
  const found = astray(choices);
  const others = everySeason(choices).map(astray);
  const sum = (what) => others.reduce((total, one) => total + one[what], 0);
  const together = { counted: sum('counted'), elsewhere: sum('elsewhere') };
  const all = `In the ${others.length} seasons that the picture can play with this layout: ${others.map(outOf).join(', ')}; together ${outOf(together)}`
    + `${together.counted > 0 ? ` (${percent(together.elsewhere, together.counted)})` : ''}.`;
  const band = bandOf(found);
  if (band === null) return { band, lines: [`In this season no late larva was counted. That happens on small patches: try another season. ${all}`] };
  const parts = found.groups.map((group) => `${word} the ${NAMES[group.key]} ${outOf(group)}`).join(', ');
  const verdict = [
    'So in this season the count can stand for where they hatched.',
    'So in this season the count is a little off.',
    'So in this season the count says as much about where larvae walked to as about where they hatched.',
  ][band];
  return { band, lines: [
    `Of ${larvae(found.counted)} counted, ${found.elsewhere > 0 ? `${found.elsewhere} (${percent(found.elsewhere, found.counted)})` : 'none'} `
      + `hatched elsewhere: ${parts}.`,
    verdict, all] };
}

function refugeAnswer(choices) {
  const halfChoices = { ...choices, share: HALF };
  const onTreated = (what) => finalCount(what).groups[0].counted;
  const [none, half] = [onTreated(choices), onTreated(halfChoices)];
  const pairs = everySeason(choices).map((one) => `${onTreated(one)} and ${onTreated({ ...one, share: HALF })}`);
  const lost = [choices, halfChoices].map((one) => countSeason(seasonOf(one), data.end_hour, 'patches').destroyed);
  const ratio = half > 0 ? none / half : none > 0 ? Infinity : 1;
  const band = ratio < 1 - ALIKE ? 0 : ratio <= 1 + ALIKE ? 1 : 2;
  return { band, lines: [
    `Without a refuge, a volunteer counts ${larvae(none)} on the treated patch; with ${shareWords(data.refuge_shares[HALF])} of it left, ${half}. `
      + `In the ${pairs.length} seasons that the picture can play, without and with: ${pairs.join('; ')}.`,
    `The cut itself destroyed ${plural(lost[0], 'egg or larva', 'eggs and larvae')} without a refuge, and ${lost[1]} with one.`
      + `${lost[0] > lost[1] ? ' What was lost that day does not show in the late counts.' : ''}`] };
}

const pair = { share: HALF, side: 0, compare: 'patches' };
const SCENES = [
  {
    name: 'Close together', set: { ...pair, gap: NEAR }, choices: BANDS,
    heading: () => `Two patches ${length(data.gaps_m[NEAR])} apart`,
    question: 'You count the late larvae on both patches. How many of those you count hatched on the other patch?',
    answer: (choices) => {
      const answer = strayAnswer(choices, 'on');
      answer.lines.push(FULLEST);
      return answer;
    },
    field: 'Do not compare the late larvae of two patches this close as if they were two places. Choose patches farther apart, or compare eggs and young larvae, which hardly walk.',
  },
  {
    name: 'Far apart', set: { ...pair, gap: FAR }, choices: BANDS,
    heading: () => `The same patches, ${length(data.gaps_m[FAR])} apart`,
    question: 'The same season, the same stems, a wider gap. How many of the late larvae you count hatched on the other patch?',
    answer: (choices) => {
      const answer = strayAnswer(choices, 'on');
      answer.lines.push(`At ${length(data.gaps_m[NEAR])} it was ${outOf(astray({ ...choices, gap: NEAR }))} in this season.`);
      return answer;
    },
    field: 'Pace out the gap from edge to edge before anything is cut, and write it down. The chart of many seasons below says how wide is wide enough.',
  },
  {
    name: 'Two halves', set: { ...pair, gap: FAR, compare: 'halves' }, choices: BANDS,
    heading: () => 'Cut half and refuge half of one patch',
    question: 'Now look within the treated patch. Its two halves touch. How many of the late larvae you count there did not hatch in the half they stand in?',
    answer: (choices) => strayAnswer(choices, 'in'),
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
