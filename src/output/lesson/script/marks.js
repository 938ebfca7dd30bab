// Marks of animals and stems.
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
