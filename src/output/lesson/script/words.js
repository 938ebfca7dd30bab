// Words, and what is chosen now.
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

// ---- what is chosen now
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
