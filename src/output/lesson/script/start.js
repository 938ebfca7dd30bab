// What tests may look at, and the start.
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
